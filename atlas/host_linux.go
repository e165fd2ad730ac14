package atlas

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// processStart names the moment a process began: boot, process space and clock ticks. "" when there is no such
// process, or only its body waits to be collected.
func processStart(pid int) string {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return ""
	}
	// proc(5): the name in field 2 may hold anything up to its last bracket; the state is field 3, the start field 22.
	rest := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
	if len(rest) < 20 || rest[0] == "Z" || rest[0] == "X" {
		return ""
	}
	return machine() + " " + rest[19]
}

// machine names this boot of this machine and the process space we live in, where process numbers have a meaning.
func machine() string {
	boot, _ := os.ReadFile("/proc/sys/kernel/random/boot_id")
	space, _ := os.Readlink("/proc/self/ns/pid")
	return strings.TrimSpace(string(boot)) + " " + space
}

// sameMachine reports whether the process numbers of a mark are ours to judge. After a restart they are: its
// process is gone.
func sameMachine(started string) bool {
	then, now := strings.Fields(started), strings.Fields(machine())
	if len(then) != 3 || len(now) != 2 {
		return true
	}
	return then[0] != now[0] || then[1] == now[1]
}

func alive(pid int, started string) bool {
	now := processStart(pid)
	return now != "" && (started == "" || started == now)
}

// Magic numbers of network file systems, statfs(2).
var shares = map[uint32]string{
	0x6969: "NFS", 0x517B: "SMB", 0xFF534D42: "CIFS", 0xFE534D42: "SMB", 0x00C36400: "Ceph", 0x5346414F: "AFS",
	0x564C: "NCP", 0x73757245: "Coda", 0x0BD00BD0: "Lustre",
}

const fuse = 0x65735546

// shareKind names the network file system that dir lies on, "" for a local disk. A dir that is not there yet
// is judged by the folder it will be made in.
func shareKind(dir string) string {
	var fs syscall.Statfs_t
	for syscall.Statfs(dir, &fs) != nil {
		up := filepath.Dir(dir)
		if up == dir {
			return ""
		}
		dir = up
	}
	if uint32(fs.Type) == fuse {
		return fuseShare(dir)
	}
	return shares[uint32(fs.Type)]
}

// fuseShare tells remote file systems in user space from local ones by the table of mounts, proc(5).
func fuseShare(dir string) string {
	table, err := os.ReadFile("/proc/self/mounts")
	if err != nil {
		return ""
	}
	best, kind := "", ""
	for _, line := range strings.Split(string(table), "\n") {
		f := strings.Fields(line)
		if len(f) < 3 || len(f[1]) < len(best) {
			continue
		}
		if dir == f[1] || f[1] == "/" || strings.HasPrefix(dir, f[1]+"/") {
			best, kind = f[1], f[2]
		}
	}
	for _, remote := range []string{"sshfs", "gvfsd", "rclone", "davfs", "s3fs", "glusterfs", "ceph"} {
		if strings.Contains(kind, remote) {
			return remote
		}
	}
	return ""
}
