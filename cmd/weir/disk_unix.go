//go:build linux || darwin

package main

import "syscall"

// freeRoom is how many bytes this user may still write where folder is.
func freeRoom(folder string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
