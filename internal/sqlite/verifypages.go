package sqlite

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
)

// checkChecksums reads the file page by page and compares each with the checksum at its end, so that a byte that storage
// changed is found wherever it lies, also where no row does, and its page is named.
func (v *verifier) checkChecksums() error {
	f, err := os.Open(v.book.path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, headerBytes)
	if _, err := io.ReadFull(f, head); err != nil {
		return fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	size := int64(binary.BigEndian.Uint16(head[headerPageSize:]))
	if size == 1 { // stands for the largest, which two bytes cannot hold
		size = 1 << 16
	}
	if head[headerReserved] != checksumBytes || size < 512 {
		v.fault(AreaStructure, nil, "its pages carry no checksums: the first page is damaged, or another program made the file")
		return nil
	}
	page := make([]byte, size)
	for n := int64(0); ; n++ {
		switch _, err := f.ReadAt(page, n*size); {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		if content, sum := page[:size-checksumBytes], page[size-checksumBytes:]; checksum(content) != [checksumBytes]byte(sum) {
			v.fault(AreaStructure, nil, "page %d, bytes %d to %d of the file, is not what was written: its checksum does not fit", n+1, n*size+1, (n+1)*size)
		}
	}
}

// headerReserved is the place of the number of bytes that are set apart in every page.
const headerReserved = 20

// checksum is that of SQLite's checksum extension: two running sums over pairs of little-endian words (sqlite.org,
// "The Checksum VFS Shim").
func checksum(content []byte) (sum [checksumBytes]byte) {
	var s1, s2 uint32
	for ; len(content) > 0; content = content[8:] {
		s1 += binary.LittleEndian.Uint32(content) + s2
		s2 += binary.LittleEndian.Uint32(content[4:]) + s1
	}
	binary.LittleEndian.PutUint32(sum[:4], s1)
	binary.LittleEndian.PutUint32(sum[4:], s2)
	return sum
}
