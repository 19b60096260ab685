package workbook

import (
	"bytes"
	"hash/crc32"
	"runtime"

	"github.com/klauspost/compress/flate"
)

// packedRows are rows of a sheet as the file format has them, compressed, to be set into what the library writes of the
// sheet. Their stream has no end: more follows.
type packedRows struct {
	store spool
	crc   uint32
	size  uint64 // before compression
}

// keep adds a compressed piece.
func (p *packedRows) keep(raw, packed []byte) error {
	if p.size += uint64(len(raw)); p.size > partLimit {
		return errPartSize
	}
	p.crc = crc32.Update(p.crc, crc32.IEEETable, raw)
	_, err := p.store.Write(packed)
	return err
}

// blockBytes is how much is compressed in one piece. A smaller piece finds less to refer back to: this one makes files
// larger by half a per cent than one piece would.
const blockBytes = 512 << 10

// packer compresses what is appended to it on all processors, piece by piece, and keeps the pieces in their order. A piece
// does not know of the others, so that the bytes are the same however many processors there are.
type packer struct {
	block *packBlock      // being filled
	free  chan *packBlock // empty
	jobs  chan *packBlock // filled
	order chan *packBlock // the same, to be kept in this order
	done  chan error      // the first error of keeping, when all is kept
}

// packBlock is one piece.
type packBlock struct {
	raw    []byte
	packed bytes.Buffer
	rows   *packedRows // that it is a piece of
	ready  chan error  // takes one value, once it is compressed
	failed error       // what has gone wrong so far, when it is empty again
}

// maxWorkers bounds what many processors would take of memory: the reading of rows is soon slower.
const maxWorkers = 4

// newPacker starts a packer, which must be closed.
func newPacker() *packer {
	workers := min(runtime.GOMAXPROCS(0), maxWorkers)
	blocks := 2*workers + 1 // one is filled, and the others are compressed or wait for their turn to be kept
	p := &packer{free: make(chan *packBlock, blocks), jobs: make(chan *packBlock, blocks), order: make(chan *packBlock, blocks), done: make(chan error, 1)}
	for range blocks {
		p.free <- &packBlock{ready: make(chan error, 1)}
	}
	p.block = <-p.free
	for range workers {
		go p.compress()
	}
	go p.collect()
	return p
}

// compress compresses blocks until there are no more.
func (p *packer) compress() {
	var w *flate.Writer
	for b := range p.jobs {
		b.ready <- b.compress(&w)
	}
}

// compress compresses the block with a writer, which is made where there is none.
func (b *packBlock) compress(w **flate.Writer) (err error) {
	b.packed.Reset()
	if *w == nil {
		if *w, err = flate.NewWriter(&b.packed, deflateLevel); err != nil {
			return err
		}
	}
	(*w).Reset(&b.packed)
	if _, err := (*w).Write(b.raw); err != nil {
		return err
	}
	return (*w).Flush() // ends on a byte, so that another piece can follow
}

// collect keeps blocks in order, and goes on emptying them when that fails, so that nobody waits for ever.
func (p *packer) collect() {
	var failed error
	for b := range p.order {
		err := <-b.ready
		if err == nil && failed == nil {
			err = b.rows.keep(b.raw, b.packed.Bytes())
		}
		if failed == nil {
			failed = err
		}
		b.failed = failed
		b.raw = b.raw[:0]
		p.free <- b
	}
	p.done <- failed
}

// flush hands the block that is being filled over, as a piece of rows, and begins the next.
func (p *packer) flush(rows *packedRows) error {
	if len(p.block.raw) == 0 {
		return p.block.failed
	}
	p.block.rows = rows
	p.order <- p.block
	p.jobs <- p.block
	p.block = <-p.free
	if p.block.raw == nil { // after one that is full there may be many
		p.block.raw = make([]byte, 0, blockBytes+blockBytes/8)
	}
	return p.block.failed
}

// close waits until all is kept. What has not been flushed is lost.
func (p *packer) close() error {
	close(p.jobs)
	close(p.order)
	return <-p.done
}
