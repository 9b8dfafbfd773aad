package protocol

import (
	"fmt"

	"mealtrial/protocol/yamldoc"
)

// FormatVersion is that of the files of a study. It grows only where an older program
// would misread a file; a key that is added does not count. A file without a format
// is of format 1, the first.
const FormatVersion = 1

// readFormat refuses a file of a later format. A file of an earlier one is read as
// what it is; there is none yet.
func readFormat(n yamldoc.Node) {
	if !n.Present() {
		return
	}
	const most = 1000
	if v := n.Whole(1, most, FormatVersion); v > FormatVersion {
		n.Reject(fmt.Sprintf("format %d, which a later version of mealtrial wrote", v), fmt.Sprintf("at most %d, which mealtrial %s reads", FormatVersion, Version),
			"install a newer mealtrial; nothing was changed")
	}
}
