package swing

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math"

	"example.com/courtkin/service/body"
)

// idReach is the stretch about contact whose frames name a swing, seconds.
const idReach = 0.15

// name returns the identity of the swing about an instant: a digest of the
// lead's frames within idReach of it, times included and the client's numbers not.
func (m *machine) name(contactUS int64) string {
	r, reach := m.cams[m.lead].ring, m.det.view.us(idReach)
	h := sha256.New()
	var b [16]byte
	for k := r.since(contactUS - reach); k < r.next && r.time(k) <= contactUS+reach; k++ {
		binary.LittleEndian.PutUint64(b[:], uint64(r.time(k)))
		h.Write(b[:8])
		for p := range body.NumPoints {
			w, i := r.worldAt(k, p), r.imageAt(k, p)
			hashPoint(h, b[:], w.Score, w.X, w.Y, w.Z)
			hashPoint(h, b[:], i.Score, i.X, i.Y, 0)
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// hashPoint adds a point to a digest: one zero when it was not seen.
func hashPoint(h hash.Hash, b []byte, score, x, y, z float32) {
	if score == 0 {
		h.Write([]byte{0})
		return
	}
	for i, v := range [...]float32{score, x, y, z} {
		binary.LittleEndian.PutUint32(b[4*i:], math.Float32bits(v))
	}
	h.Write(b)
}
