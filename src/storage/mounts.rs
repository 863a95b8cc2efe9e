//! The file system that a file lies on. Over a network SQLite cannot keep what it acknowledges: its log needs memory that
//! all who open it share, and locks that hold (sqlite.org/wal.html; sqlite.org/useovernet.html).

use std::path::Path;

/// What the kernel calls file systems that lie on another machine.
const REMOTE: [&str; 9] = ["nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ceph", "ncpfs", "fuse.sshfs"];

/// Returns what kind of network file system a file, or the folder that it is to lie in, is on; `None` where it is on none,
/// or nobody says.
pub fn remote(path: &Path) -> Option<String> {
    let mounts = std::fs::read_to_string("/proc/self/mountinfo").ok()?;
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let place = path.canonicalize().or_else(|_| folder.canonicalize()).ok()?;
    let kind = kind(&mounts, &place)?;
    REMOTE.contains(&kind).then(|| kind.to_owned())
}

/// Finds the kind of the file system that is mounted nearest above a place; of two mounted at one point the later hides the
/// other (proc(5), mountinfo).
fn kind<'m>(mounts: &'m str, place: &Path) -> Option<&'m str> {
    let of_line = |line: &'m str| {
        let (mount, system) = line.split_once(" - ")?;
        let point = mount.split(' ').nth(4)?;
        Some((unescaped(point), system.split(' ').next()?))
    };
    let above = mounts.lines().filter_map(of_line).filter(|(point, _)| place.starts_with(point));
    above.max_by_key(|(point, _)| point.len()).map(|(_, kind)| kind)
}

/// Blanks and backslashes stand in a mount point as octal numbers.
fn unescaped(point: &str) -> String {
    point.replace("\\040", " ").replace("\\011", "\t").replace("\\134", "\\")
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOUNTS: &str = "\
22 1 254:1 / / rw,relatime shared:1 - ext4 /dev/vda1 rw
40 22 0:35 / /srv rw,relatime shared:7 - nfs4 filer:/export rw,vers=4.2
41 40 254:2 / /srv/local rw,relatime - xfs /dev/vdb rw
42 22 0:36 / /mnt/two\\040words rw - cifs //filer/share rw
43 22 254:3 / /data rw - ext4 /dev/vdc rw
44 43 0:37 / /data rw master:3 - nfs filer:/data rw
";

    #[test]
    fn the_nearest_mount_decides() {
        for (place, due) in [
            ("/var/lib/league.sqlite", "ext4"),
            ("/srv/league.sqlite", "nfs4"),
            ("/srv/local/league.sqlite", "xfs"),
            ("/srvlocal/league.sqlite", "ext4"),
            ("/mnt/two words/league.sqlite", "cifs"),
            ("/data/league.sqlite", "nfs"),
        ] {
            assert_eq!(kind(MOUNTS, Path::new(place)), Some(due), "{place}");
        }
    }

    #[test]
    fn this_machine_says_where_its_files_lie() {
        if cfg!(target_os = "linux") {
            let mounts = std::fs::read_to_string("/proc/self/mountinfo").expect("mounts");
            assert_eq!(kind(&mounts, Path::new("/proc/self")), Some("proc"));
        }
    }
}
