package protocol

import (
	"fmt"

	"mealtrial/protocol/yamldoc"
)

// FormatVersion is that of the files of a study. It grows only where an older program
// would misread a file; a key that is added does not count. A file without a format
// is of format 1, the first.
const FormatVersion = 1

// readFormat refuses a document of a later format, whose other keys need not be looked
// at. One of an earlier format is read as what it is; there is none yet.
func readFormat(root yamldoc.Node) (readable bool) {
	const most = 1000
	n := root.Value("format")
	v := n.Whole(1, most, FormatVersion)
	if v > FormatVersion {
		n.Reject(fmt.Sprintf("format %d, which a later version of mealtrial wrote", v), fmt.Sprintf("at most %d, which mealtrial %s reads", FormatVersion, Version),
			"install a newer mealtrial; nothing was changed")
	}
	return v <= FormatVersion
}
