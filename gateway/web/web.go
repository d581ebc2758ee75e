// Package web holds the page that the gateway serves: its files, embedded, and
// the handler that serves them. The page's program is TypeScript in ts, compiled
// into page/js by
//
//	npm ci --prefix .ci/tools/web && .ci/tools/web/build
//
// A test fails when page/js is not what ts compiles to.
package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
)

//go:embed page
var embedded embed.FS

// Files returns the page's files.
func Files() fs.FS {
	files, err := fs.Sub(embedded, "page")
	if err != nil {
		panic(err) // "page" is a valid name
	}
	return files
}

// addOnFolder is where the pose estimator's files are found on the page.
const addOnFolder = "addon/pose/"

// addOnFiles are what is served of the pose estimator's package: the runtime
// and the model that the page uses. The package holds twice as much.
var addOnFiles = []string{
	"pose.js",
	"pose_landmark_full.tflite",
	"pose_solution_packed_assets.data",
	"pose_solution_packed_assets_loader.js",
	"pose_solution_simd_wasm_bin.data",
	"pose_solution_simd_wasm_bin.js",
	"pose_solution_simd_wasm_bin.wasm",
	"pose_solution_wasm_bin.js",
	"pose_solution_wasm_bin.wasm",
	"pose_web.binarypb",
}

// Handler serves the files of a page with headers that keep it to itself: no
// script, picture or connection but this server's. addOn holds the pose
// estimator's files; nil: none.
func Handler(files, addOn fs.FS) (http.Handler, error) {
	h := &handler{files: map[string]file{}, addOn: addOn}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		return h.add(name, raw)
	})
	if err != nil {
		return nil, err
	}
	return h, h.worker()
}

// handler serves files from memory.
type handler struct {
	files map[string]file // by path without the leading slash
	addOn fs.FS
}

type file struct {
	plain, zipped []byte
	kind, tag     string
}

// add takes a file; one named .gz stands for its unpacked self.
func (h *handler) add(name string, raw []byte) error {
	plain := raw
	if zipped, ok := strings.CutSuffix(name, ".gz"); ok {
		r, err := gzip.NewReader(bytes.NewReader(raw))
		if err != nil {
			return err
		}
		if plain, err = io.ReadAll(r); err != nil {
			return err
		}
		name = zipped
	}
	h.files[name] = newFile(name, plain)
	return nil
}

func newFile(name string, plain []byte) file {
	sum := sha256.Sum256(plain)
	f := file{plain: plain, kind: kindOf(name), tag: `"` + hex.EncodeToString(sum[:12]) + `"`}
	var packed bytes.Buffer
	z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression) // the level is valid
	_, _ = z.Write(plain)
	if z.Close() == nil && packed.Len() < len(plain)*9/10 {
		f.zipped = packed.Bytes()
	}
	return f
}

// kindOf does not ask the system's table, which differs from machine to machine.
func kindOf(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".json":
		return "application/json"
	case ".webmanifest":
		return "application/manifest+json"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	case ".wasm":
		return "application/wasm"
	}
	if kind := mime.TypeByExtension(path.Ext(name)); kind != "" {
		return kind
	}
	return "application/octet-stream"
}

// worker writes the service worker with the list of files and a fingerprint of
// them all, so that a new build replaces what an old one kept.
func (h *handler) worker() error {
	source, ok := h.files["js/sw.js"]
	if !ok {
		return errors.New("web: no js/sw.js among the files")
	}
	delete(h.files, "js/sw.js")
	names := []string{}
	for name := range h.files {
		if name != "index.html" {
			names = append(names, name)
		}
	}
	names = append(names, "./")
	slices.Sort(names)
	all := sha256.New()
	for _, name := range names {
		_, _ = io.WriteString(all, name+h.files[strings.Replace(name, "./", "index.html", 1)].tag)
	}
	_, _ = all.Write(source.plain)
	list, err := json.Marshal(names)
	if err != nil {
		return err
	}
	text := strings.Replace(string(source.plain), "__FINGERPRINT__", "courtkin-"+hex.EncodeToString(all.Sum(nil)[:8]), 1)
	h.files["sw.js"] = newFile("sw.js", []byte(strings.Replace(text, "__FILES__", string(list), 1)))
	return nil
}

func (h *handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(path.Clean("/"+r.URL.Path), "/")
	guard(w.Header(), r.Host)
	if addOn, ok := strings.CutPrefix(name, addOnFolder); ok && h.serveAddOn(w, r, addOn) {
		return
	}
	if name == "" {
		name = "index.html"
	}
	f, ok := h.files[name]
	if !ok {
		f, ok = h.files[name+".html"]
	}
	switch {
	case !ok:
		http.Error(w, "not found; the calls are described at /openapi.json and /api", http.StatusNotFound)
	case r.Method != http.MethodGet && r.Method != http.MethodHead:
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET", http.StatusMethodNotAllowed)
	default:
		f.serve(w, r)
	}
}

func (f *file) serve(w http.ResponseWriter, r *http.Request) {
	head := w.Header()
	head.Set("Content-Type", f.kind)
	head.Set("Cache-Control", "no-cache") // kept, but asked about: a 304 is cheap
	head.Set("ETag", f.tag)
	head.Add("Vary", "Accept-Encoding")
	if strings.Contains(r.Header.Get("If-None-Match"), f.tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	body := f.plain
	if f.zipped != nil && acceptsGzip(r) {
		head.Set("Content-Encoding", "gzip")
		body = f.zipped
	}
	if r.Method != http.MethodHead {
		_, _ = w.Write(body)
	}
}

var gzipWord = regexp.MustCompile(`(?i)(?:^|,)\s*gzip\s*(?:;\s*q=(?:1|0\.\d*[1-9])\d*)?\s*(?:,|$)`)

func acceptsGzip(r *http.Request) bool { return gzipWord.MatchString(r.Header.Get("Accept-Encoding")) }

// serveAddOn serves a file of the pose estimator and says whether it did.
func (h *handler) serveAddOn(w http.ResponseWriter, r *http.Request, name string) bool {
	i := slices.Index(addOnFiles, name)
	if h.addOn == nil || i < 0 {
		return false
	}
	name = addOnFiles[i]
	if _, err := fs.Stat(h.addOn, name); errors.Is(err, os.ErrNotExist) {
		return false
	}
	w.Header().Set("Content-Type", kindOf(name))
	w.Header().Set("Cache-Control", "max-age=86400")
	http.ServeFileFS(w, r, h.addOn, name)
	return true
}

var goodHost = regexp.MustCompile(`^[0-9A-Za-z.:\[\]-]{1,255}$`)

// guard sets the headers of everything on the page. The WebSocket's address is
// named besides 'self', as older browsers do not take it to be the same origin.
func guard(head http.Header, host string) {
	sockets := ""
	if goodHost.MatchString(host) {
		sockets = " ws://" + host + " wss://" + host
	}
	head.Set("Content-Security-Policy", "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; "+
		"img-src 'self' data: blob:; media-src 'self' blob:; connect-src 'self'"+sockets+"; worker-src 'self' blob:; "+
		"manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	head.Set("Permissions-Policy", "camera=(self), screen-wake-lock=(self), microphone=(), geolocation=()")
	head.Set("Referrer-Policy", "no-referrer")
	head.Set("X-Content-Type-Options", "nosniff")
	head.Set("Cross-Origin-Opener-Policy", "same-origin")
	head.Set("Cross-Origin-Resource-Policy", "same-origin")
}
