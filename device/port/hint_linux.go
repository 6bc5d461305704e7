package port

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"os/user"
	"slices"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

// settlingFor is how long after a node was made or handed over a denial may still
// be udev's work in progress; 20 to 170 ms were measured.
const settlingFor = 5 * time.Second

// settling reports whether the node is that young.
func settling(device string) bool {
	var stat unix.Stat_t
	if err := unix.Stat(device, &stat); err != nil {
		return false
	}
	return time.Since(time.Unix(stat.Ctim.Unix())) < settlingFor
}

// deniedHint says how this user gets at the device: by joining the group that may
// use it, by logging in again if that was done, or by a rule that hands it over.
func deniedHint(ctx context.Context, device string) string {
	var stat unix.Stat_t
	if err := unix.Stat(device, &stat); err != nil {
		return "Ask whoever runs this machine for access to the directory of the device."
	}
	rule := "put this line into /etc/udev/rules.d/70-soakline.rules and plug the adapter in again: " + udevRule(ctx, device)
	group := groupName(stat.Gid)
	if stat.Gid == 0 || stat.Mode&0o060 != 0o060 {
		return "No group may use the device, so " + rule
	}
	if active, err := os.Getgroups(); os.Getegid() == int(stat.Gid) || err == nil && slices.Contains(active, int(stat.Gid)) {
		return fmt.Sprintf("The group %s may use the device and you are in it, so look for what else keeps you out: an access list (getfacl %s), or a container that was not given the device.", group, device)
	}
	who, err := user.Current()
	if err != nil {
		return fmt.Sprintf("Join the group %s, or %s", group, rule)
	}
	// Groups as the files have them now, not as this login has them.
	joined, err := who.GroupIds()
	return joinHint(group, who.Username, err == nil && slices.Contains(joined, strconv.Itoa(int(stat.Gid))), rule)
}

func joinHint(group, username string, joined bool, rule string) string {
	if joined {
		return fmt.Sprintf("You are in the group %s, but not since this login: log out and in again.", group)
	}
	return fmt.Sprintf("Join the group %s (sudo usermod -aG %s %s, then log out and in again), or %s", group, group, username, rule)
}

// udevRule is the line that gives the device to the group that usually has serial
// ports, for this adapter alone where it is known.
func udevRule(ctx context.Context, device string) string {
	match := fmt.Sprintf(`KERNEL=="%s"`, device[len("/dev/"):])
	if ports, err := List(ctx); err == nil {
		for _, p := range ports {
			if p.Path == device && p.USB {
				match = fmt.Sprintf(`ATTRS{idVendor}=="%s", ATTRS{idProduct}=="%s"`, p.VendorID, p.ProductID)
			}
		}
	}
	return fmt.Sprintf(`SUBSYSTEM=="tty", %s, GROUP="%s", MODE="0660"`, match, serialGroup())
}

// serialGroup is dialout on Debian and its kin, uucp elsewhere.
func serialGroup() string {
	for _, name := range []string{"dialout", "uucp"} {
		if _, err := user.LookupGroup(name); err == nil {
			return name
		}
	}
	return "dialout"
}

func groupName(id uint32) string {
	number := strconv.Itoa(int(id))
	if group, err := user.LookupGroupId(number); err == nil {
		return group.Name
	}
	return number
}

func busyHint(device string) string {
	holder := holderOf(device, holders())
	if holder == "" && os.Geteuid() != 0 {
		return "Close the program that holds the port; sudo fuser -v " + device + " names it."
	}
	return "Close " + cmp.Or(holder, "the program that holds the port") + " or let it release the port."
}
