package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/encoding/protojson"

	"example.com/courtkin/service"
)

type batchCmd struct {
	Dirs    []string `arg:"" name:"dir" help:"Folders of clips, searched to the bottom; also single files."`
	Out     string   `required:"" type:"path" placeholder:"DIR" help:"Folder for the results, one JSON file for each clip."`
	Shard   string   `default:"0/1" placeholder:"I/N" help:"Take the files whose place in the sorted listing leaves I when divided by N."`
	Workers int      `default:"0" help:"Clips analysed at once; 0: one for each core."`
	Memory  int      `default:"512" help:"MB that clips under way may take, by an estimate from their size."`
	clipFlags
}

// Run analyses every clip that has no result yet. A clip that cannot be
// analysed is reported, and the others go on; so does the next run, which
// tries it again.
func (cmd *batchCmd) Run(ctx context.Context, c *console) error {
	shard, of, err := cmd.check()
	if err != nil {
		return err
	}
	all, err := clipsBelow(cmd.Dirs, cmd.Out)
	if err != nil {
		return err
	}
	srv, err := newService()
	if err != nil {
		return err
	}
	b := &batch{cmd: cmd, console: c, srv: srv, memory: newBudget(int64(cmd.Memory) << 20)}
	for _, clip := range mine(all, shard, of) {
		if clip.done(cmd.Out) {
			b.kept++
			continue
		}
		b.todo = append(b.todo, clip)
	}
	return b.run(ctx)
}

func (cmd *batchCmd) check() (shard, of int, err error) {
	if n, err := fmt.Sscanf(cmd.Shard, "%d/%d", &shard, &of); n != 2 || err != nil || fmt.Sprintf("%d/%d", shard, of) != cmd.Shard ||
		of < 1 || shard < 0 || shard >= of {
		return 0, 0, usage("--shard %s: must be I/N, I from 0 to N−1", cmd.Shard)
	}
	if cmd.Workers < 0 || cmd.Workers > 1024 || cmd.Memory < 1 {
		return 0, 0, usage("--workers must be 0 to 1024, --memory at least 1")
	}
	if cmd.Workers == 0 {
		cmd.Workers = runtime.GOMAXPROCS(0)
	}
	return shard, of, cmd.clipFlags.check()
}

// recording is a clip's file and where its result goes, below the folder for results.
type recording struct {
	path, result string
	size         int64
}

// clipEndings are the names that a clip may end in.
var clipEndings = []string{".json", ".ndjson", ".jsonl", ".pb", ".binpb", ".bin", ".csv"}

// clipsBelow lists the clips below folders, sorted by their results' names, so
// that every shard sees the same order. Hidden files and the results are none.
func clipsBelow(dirs []string, out string) ([]recording, error) {
	var all []recording
	for _, dir := range dirs {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case d.IsDir() && (sameFile(path, out) || path != dir && strings.HasPrefix(d.Name(), ".")):
				return filepath.SkipDir
			case d.IsDir() || strings.HasPrefix(d.Name(), ".") || !slices.Contains(clipEndings, strings.ToLower(filepath.Ext(path))):
				return nil
			}
			info, err := d.Info()
			if err != nil || !info.Mode().IsRegular() {
				return err
			}
			all = append(all, recording{path, resultName(dir, path), info.Size()})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	slices.SortFunc(all, func(a, b recording) int { return strings.Compare(a.result, b.result) })
	for i := 1; i < len(all); i++ {
		if all[i].result == all[i-1].result {
			return nil, usage("%s and %s would have the same result, %s", all[i-1].path, all[i].path, all[i].result)
		}
	}
	return all, nil
}

func sameFile(a, b string) bool {
	x, errA := os.Stat(a)
	y, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(x, y)
}

// resultName is a clip's place below its folder, with .json added: clips that
// differ in their ending alone do not meet.
func resultName(dir, path string) string {
	rel, err := filepath.Rel(dir, path)
	if err != nil || rel == "." {
		rel = filepath.Base(path)
	}
	return rel + ".json"
}

// mine are the files of a shard.
func mine(all []recording, shard, of int) (out []recording) {
	for i := shard; i < len(all); i += of {
		out = append(out, all[i])
	}
	return out
}

// done reports whether a clip has a result that is not older than the clip.
func (r recording) done(out string) bool {
	result, err := os.Stat(filepath.Join(out, r.result))
	if err != nil {
		return false
	}
	clip, err := os.Stat(r.path)
	return err == nil && !result.ModTime().Before(clip.ModTime())
}

// batch is a run over one shard.
type batch struct {
	cmd     *batchCmd
	console *console
	srv     *service.Server
	memory  *budget
	todo    []recording
	kept    int

	mu     sync.Mutex
	failed int
	fatal  error // ends the run: results cannot be written
	bar    *progress
}

// run has workers take the clips one after the other.
func (b *batch) run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	b.bar = newProgress(b.console.err, "clips", len(b.todo))
	if isTerminal(b.console.err) { // shown for any number of clips
		b.bar.out = b.console.err
	}
	next := make(chan recording)
	var workers sync.WaitGroup
	done := 0
	for range b.cmd.Workers {
		workers.Go(func() {
			for r := range next {
				err := b.one(ctx, r)
				b.mu.Lock()
				done++
				b.note(ctx, r, err, stop)
				b.bar.at(done)
				b.mu.Unlock()
			}
		})
	}
	b.hand(ctx, next)
	close(next)
	workers.Wait()
	b.bar.end()
	return b.end(ctx, done)
}

// hand hands the clips out until none is left or the run is to end.
func (b *batch) hand(ctx context.Context, next chan<- recording) {
	for _, r := range b.todo {
		select {
		case next <- r:
		case <-ctx.Done():
			return
		}
	}
}

// note keeps what became of a clip; b.mu is held.
func (b *batch) note(ctx context.Context, r recording, err error, stop func()) {
	var unwritten *writeError
	switch {
	case err == nil || ctx.Err() != nil:
		return
	case errors.As(err, &unwritten):
		b.fatal = err
		stop()
	}
	b.failed++
	b.bar.end()
	fmt.Fprintln(b.console.err, "courtkin: "+oneLine(r.path+": "+err.Error()))
}

func (b *batch) end(ctx context.Context, done int) error {
	fmt.Fprintf(b.console.out, "%s: %d analysed, %d had results, %d failed, %d left\n",
		counted(len(b.todo)+b.kept, "clip"), done-b.failed, b.kept, b.failed, len(b.todo)-done)
	switch {
	case b.fatal != nil, b.failed > 0:
		return errReported
	}
	return ctx.Err()
}

// inMemory is how many bytes a clip takes while it is analysed, for each byte
// of its file: its text, its numbers as messages, its result. Our own estimate,
// on the safe side for JSON.
const inMemory = 6

// one analyses one clip and writes its result.
func (b *batch) one(ctx context.Context, r recording) error {
	taken, err := b.memory.take(ctx, inMemory*r.size)
	if err != nil {
		return err
	}
	defer b.memory.free(taken)
	raw, err := readFile(b.console, r.path)
	if err != nil {
		return err
	}
	req, err := b.cmd.clip(r.path, raw)
	if err != nil {
		return err
	}
	res, err := b.srv.Analyze(ctx, req, func(int) {})
	if err != nil {
		return err
	}
	out, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(res)
	if err != nil {
		return err
	}
	if err := writeWhole(filepath.Join(b.cmd.Out, r.result), append(out, '\n')); err != nil {
		return &writeError{err}
	}
	return nil
}

// writeError is a result that could not be written: the disk is full, or not ours.
type writeError struct{ error }

func (e *writeError) Unwrap() error { return e.error }

// writeWhole writes a file that is there whole or not at all, even when the
// machine dies: aside, to the disk, then renamed. What a killed run left aside
// has the same name and is written over by the next.
func writeWhole(name string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o750); err != nil {
		return err
	}
	aside := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+".part")
	err := writeSynced(aside, data)
	if err == nil {
		err = os.Rename(aside, name)
	}
	if err != nil {
		_ = os.Remove(aside)
	}
	return err
}

func writeSynced(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// budget bounds the bytes of clips under way. A clip larger than all of it goes alone.
type budget struct {
	all  int64
	mu   sync.Mutex
	more *sync.Cond
	left int64
}

func newBudget(all int64) *budget {
	b := &budget{all: all, left: all}
	b.more = sync.NewCond(&b.mu)
	return b
}

// take waits until n bytes are free and returns how many were taken.
func (b *budget) take(ctx context.Context, n int64) (int64, error) {
	n = min(n, b.all)
	stop := context.AfterFunc(ctx, b.more.Broadcast)
	defer stop()
	b.mu.Lock()
	defer b.mu.Unlock()
	for b.left < n && ctx.Err() == nil {
		b.more.Wait()
	}
	if ctx.Err() != nil {
		return 0, ctx.Err()
	}
	b.left -= n
	return n, nil
}

func (b *budget) free(n int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.left += n
	b.more.Broadcast()
}
