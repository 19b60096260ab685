package table

import (
	"bytes"
	"encoding/binary"
	"io"
	"unicode/utf16"
)

const (
	zipSignature = "PK\x03\x04"                       // APPNOTE.TXT 4.3.7
	oleSignature = "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1" // [MS-CFB] 2.2

	// An OpenDocument file stores its type first, uncompressed
	// (OpenDocument 1.3 part 2, 3.3), so that it can be seen here.
	openDocumentType = "mimetypeapplication/vnd.oasis.opendocument."
)

// container describes the spreadsheet file that begins with head, or returns
// "" if it may be text.
func container(head []byte) string {
	switch {
	case bytes.HasPrefix(head, []byte(oleSignature)):
		return "an old .xls workbook or a password-protected one"
	case !bytes.HasPrefix(head, []byte(zipSignature)):
		return ""
	case bytes.Contains(head, []byte(openDocumentType)):
		return "an OpenDocument file (.ods)"
	default:
		return "an .xlsx workbook or another zip archive"
	}
}

// oleContent describes an OLE file by the streams named in its directory. It
// reads the beginning of the directory only, which is where both kinds of
// workbook have these names; without them it says what the file may be.
func oleContent(r io.ReaderAt) string {
	var header [52]byte
	if _, err := r.ReadAt(header[:], 0); err != nil {
		return "a damaged OLE file"
	}
	// [MS-CFB] 2.2: sector shift at 30 (9 or 12), first directory sector at
	// 48; sector n starts n+1 sectors into the file.
	sectorBytes := int64(512)
	if binary.LittleEndian.Uint16(header[30:]) == 12 {
		sectorBytes = 4096
	}
	first := int64(binary.LittleEndian.Uint32(header[48:]))
	directory := make([]byte, 4096)
	n, _ := r.ReadAt(directory, (first+1)*sectorBytes)
	directory = directory[:n]
	switch {
	case bytes.Contains(directory, inUTF16("EncryptedPackage")):
		return "a password-protected workbook"
	case bytes.Contains(directory, inUTF16("Workbook")), bytes.Contains(directory, inUTF16("Book")):
		return "an old .xls workbook"
	default:
		return "an old .xls workbook or a password-protected one"
	}
}

// inUTF16 returns s in UTF-16, little-endian.
func inUTF16(s string) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = binary.LittleEndian.AppendUint16(b, u)
	}
	return b
}
