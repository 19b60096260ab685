// Package merkle hashes a log into one short head, as RFC 6962 section 2.1 defines it: whoever keeps a head
// can tell later whether the log still begins with the same entries.
//
// A [Frontier] keeps only what is needed to go on appending, some forty bytes for each doubling of the log.
package merkle

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math/bits"
)

// Size is the length of a hash in bytes.
const Size = sha256.Size

// Hash is the hash of a leaf, of a node or of a whole log.
type Hash [Size]byte

// String returns the hash in lower-case hex.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// The first byte of what is hashed keeps a leaf from passing for a node (RFC 6962 section 2.1).
const (
	leafPrefix = 0x00
	nodePrefix = 0x01
)

// LeafHash returns the hash of one entry of the log, SHA-256(0x00 || data).
func LeafHash(data []byte) Hash {
	d := sha256.New()
	d.Write([]byte{leafPrefix})
	d.Write(data)
	var h Hash
	d.Sum(h[:0])
	return h
}

// NodeHash returns the hash of two subtrees, SHA-256(0x01 || left || right).
func NodeHash(left, right Hash) Hash {
	var b [1 + 2*Size]byte
	b[0] = nodePrefix
	copy(b[1:], left[:])
	copy(b[1+Size:], right[:])
	return sha256.Sum256(b[:])
}

// Frontier is the right edge of a growing tree: the roots of its complete subtrees, the largest first.
// The zero Frontier is the empty log. A copy made by assignment must not be appended to: use Clone.
type Frontier struct {
	size  int64
	roots []Hash // one for every bit that is set in size
}

// Size returns the number of leaves.
func (f *Frontier) Size() int64 { return f.size }

// Append adds the next leaf, given by its hash.
func (f *Frontier) Append(leaf Hash) {
	h := leaf
	for n := f.size; n&1 == 1; n >>= 1 {
		last := len(f.roots) - 1
		h = NodeHash(f.roots[last], h)
		f.roots = f.roots[:last]
	}
	f.roots = append(f.roots, h)
	f.size++
}

// Root returns the head of the log: the hash of the empty string for the empty log.
func (f *Frontier) Root() Hash {
	if f.size == 0 {
		return sha256.Sum256(nil)
	}
	last := len(f.roots) - 1
	h := f.roots[last]
	for i := last - 1; i >= 0; i-- {
		h = NodeHash(f.roots[i], h)
	}
	return h
}

// Clone returns a copy that shares nothing with f.
func (f *Frontier) Clone() Frontier {
	return Frontier{f.size, append([]Hash(nil), f.roots...)}
}

const sizeBytes = 8

// MarshalBinary returns the number of leaves, 8 bytes big-endian, and the roots of the subtrees. The error
// is always nil.
func (f *Frontier) MarshalBinary() ([]byte, error) {
	b := make([]byte, 0, sizeBytes+len(f.roots)*Size)
	b = binary.BigEndian.AppendUint64(b, uint64(f.size))
	for _, h := range f.roots {
		b = append(b, h[:]...)
	}
	return b, nil
}

// UnmarshalBinary reads what MarshalBinary wrote, and refuses bytes of another length.
func (f *Frontier) UnmarshalBinary(b []byte) error {
	if len(b) < sizeBytes {
		return fmt.Errorf("frontier of %d bytes: want at least %d", len(b), sizeBytes)
	}
	size := int64(binary.BigEndian.Uint64(b))
	roots := b[sizeBytes:]
	if want := bits.OnesCount64(uint64(size)) * Size; size < 0 || len(roots) != want {
		return fmt.Errorf("frontier of %d leaves with %d bytes of hashes: want %d", size, len(roots), want)
	}
	f.size, f.roots = size, make([]Hash, 0, len(roots)/Size)
	for ; len(roots) > 0; roots = roots[Size:] {
		f.roots = append(f.roots, Hash(roots[:Size]))
	}
	return nil
}
