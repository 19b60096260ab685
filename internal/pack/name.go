package pack

import (
	"fmt"
	"path"
	"strings"
)

// maxName is how long the part of a name may be that is not of the program's own making, in bytes.
const maxName = 80

// originalPath returns the place of an original file: its number in originals.csv, which no other has, and what of its
// name every file system takes. Because of the number no two names clash, also where case does not count, and none is
// a name that a system reserves for devices.
func originalPath(number int, name string) string {
	return fmt.Sprintf("%s/%03d-%s", originalsFolder, number, plainName(name))
}

// plainName keeps the last part of a path, of it ASCII letters, digits, point, underscore and hyphen, and puts a
// hyphen for everything else. A long name loses its middle and keeps its ending.
func plainName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		if isPlain(r) {
			return r
		}
		return '-'
	}, name)
	name = strings.Trim(name, ".") // a last point is dropped by some systems, a first one hides the file
	if name == "" {
		return "file"
	}
	if len(name) > maxName {
		ending := path.Ext(name)
		if len(ending) > 12 {
			ending = ""
		}
		name = strings.TrimRight(name[:maxName-len(ending)], ".") + ending
	}
	return name
}

func isPlain(r rune) bool {
	return 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || r == '.' || r == '_' || r == '-'
}

// isPath reports whether a text may be the path of a file of a pack: a plain name, or one in a folder of the pack.
func isPath(s string) bool {
	name, ok := s, s != tablesFolder && s != originalsFolder
	if folder, rest, inFolder := strings.Cut(s, "/"); inFolder {
		name, ok = rest, folder == tablesFolder || folder == originalsFolder
	}
	return ok && name != "" && name[0] != '.' && isPlainText(name)
}

func isPlainText(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return !isPlain(r) }) < 0
}
