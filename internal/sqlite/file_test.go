package sqlite_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/sqlite"
	"repose/ledger"
)

func shaOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// noise cannot be compressed.
func noise(n int) []byte {
	b := make([]byte, n)
	rand.NewChaCha8([32]byte{1}).Read(b)
	return b
}

func TestFilesAreKeptByteForByte(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	contents := map[string][]byte{
		"empty":        {},
		"one byte":     {0},
		"a short part": noise(sqlite.PartBytes - 1),
		"one part":     noise(sqlite.PartBytes),
		"two parts":    noise(sqlite.PartBytes + 1),
		"text":         bytes.Repeat([]byte("2026-10-03 09:00,L1,1,P1,24.000\r\n"), 100_000),
	}
	for name, content := range contents {
		tx := begin(t, book, epoch())
		// a reader that gives few bytes at a time, and the end together with the last of them
		sha, isNew, err := tx.AddFile(name, iotest.DataErrReader(iotest.HalfReader(bytes.NewReader(content))), "")
		if err != nil || !isNew || sha != shaOf(content) {
			t.Fatalf("%s: SHA-256 %s, new %v, error %v, want %s", name, sha, isNew, err, shaOf(content))
		}
		commit(t, tx)
	}
	book.Close()

	book = mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	for name, content := range contents {
		var got bytes.Buffer
		if err := book.FileContent(ctx, shaOf(content), &got); err != nil || !bytes.Equal(got.Bytes(), content) {
			t.Errorf("%s: %d bytes came back, error %v, want the %d that were kept", name, got.Len(), err, len(content))
		}
	}
	if err := book.FileContent(ctx, shaOf([]byte("another")), io.Discard); !errors.Is(err, sqlite.ErrNoFile) {
		t.Errorf("a file that was not taken in: error %v, want ErrNoFile", err)
	}
	broken := errors.New("the screen is full")
	if err := book.FileContent(ctx, shaOf(contents["text"]), iotestErrWriter{broken}); !errors.Is(err, broken) || errors.Is(err, sqlite.ErrDamaged) {
		t.Errorf("a writer that fails: error %v, want its own", err)
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Files != int64(len(contents)) {
		t.Errorf("verification %+v, error %v, want %d files", v, err, len(contents))
	}
}

type iotestErrWriter struct{ err error }

func (w iotestErrWriter) Write([]byte) (int, error) { return 0, w.err }

// TestAddFileAgain takes the same bytes in under other names, in one transaction and in another.
func TestAddFileAgain(t *testing.T) {
	ctx := context.Background()
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	content := noise(3 * sqlite.PartBytes)
	for i, name := range []string{"a.csv", "b.csv", "c.csv"} {
		tx := begin(t, book, epoch())
		for j := range 2 {
			_, isNew, err := tx.AddFile(name, bytes.NewReader(content), "")
			if err != nil || isNew != (i == 0 && j == 0) {
				t.Errorf("%s, time %d: new %v, error %v", name, j, isNew, err)
			}
		}
		commit(t, tx)
	}
	files, err := book.Latest().Files(ctx)
	want := []sqlite.FileInfo{{Name: "a.csv", SHA256: shaOf(content), Bytes: int64(len(content)), RecordedAt: epoch(), RecordedBy: "clerk"}}
	if d := cmp.Diff(want, files); d != "" || err != nil {
		t.Errorf("files, error %v (-want +got):\n%s", err, d)
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Records != 1 {
		t.Errorf("verification %+v, error %v, want one record", v, err)
	}
}

// TestAddFileFails has a file that cannot be read to its end: nothing of it stays.
func TestAddFileFails(t *testing.T) {
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	unplugged := errors.New("the stick was pulled out")
	tx := begin(t, book, epoch())
	reader := io.MultiReader(bytes.NewReader(noise(2*sqlite.PartBytes)), iotest.ErrReader(unplugged))
	if _, _, err := tx.AddFile("loads.csv", reader, ""); !errors.Is(err, unplugged) || !strings.Contains(err.Error(), "loads.csv") {
		t.Errorf("error %v, want the reader's, with the file's name", err)
	}
	if err := tx.Commit(); !errors.Is(err, unplugged) {
		t.Errorf("commit: error %v, want the reader's", err)
	}
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() || v.Records+v.Files != 0 {
		t.Errorf("verification %+v, error %v, want an empty book", v, err)
	}
}

func TestFilesAndSources(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	files, err := book.Latest().Files(ctx)
	if err != nil || len(files) != 3 {
		t.Fatalf("%d files, error %v, want 3", len(files), err)
	}
	want := sqlite.FileInfo{Name: "november.csv", SHA256: shaOf([]byte("the rows of november.csv")), Bytes: 24,
		RecordedAt: day(time.November, 30, 18), RecordedBy: "clerk", Seq: 16, Tallies: []sqlite.Tally{
			{Kind: ledger.KindMoistureRecord, Records: 1, First: "pile/P2/2026-11-08T01:00:00Z", Last: "pile/P2/2026-11-08T01:00:00Z"},
			{Kind: ledger.KindLoadRecord, Records: 2, Net: 51 * ledger.Tonne, First: "L1/4", Last: "L1/5"}}}
	if d := cmp.Diff(want, files[1]); d != "" {
		t.Errorf("file (-want +got):\n%s", d)
	}
	for name, row := range map[string]int{"november.csv": 3, strings.ToUpper(want.SHA256[:6]): 3, want.SHA256: 3} {
		records, err := book.BySource(ctx, name, row)
		if err != nil || len(records) != 1 || records[0].ID() != "load:NORTH:L1/5" {
			t.Errorf("row %d of %s: %v, error %v, want load:NORTH:L1/5", row, name, records, err)
		}
	}
	if records, err := book.BySource(ctx, "november.csv", 99); len(records) != 0 || err != nil {
		t.Errorf("a row that is not there: %v, error %v, want none", records, err)
	}
	for _, name := range []string{"ember.csv", "", want.SHA256[:5]} {
		if _, err := book.BySource(ctx, name, 3); !errors.Is(err, sqlite.ErrNoFile) {
			t.Errorf("file %q: error %v, want ErrNoFile", name, err)
		}
	}
}
