//go:build unix

package cl

import (
	"syscall"
	"time"
)

// cpuTime is what the process has used of all cores so far: on a shared machine a steadier measure than
// the clock on the wall.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
