//! Files and folders that nobody but their owner looks into, and names that are on disk.

use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// Makes a folder, and those above it; one that is there stays as it is.
///
/// # Errors
/// A folder that cannot be made.
pub fn folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(path)
}

/// Returns how such a file is opened; what is to be done with it is still to be said.
pub fn file() -> OpenOptions {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options
}

/// Puts a file in the place of another, at once and for good: whoever reads finds the old or the new one whole.
///
/// # Errors
/// A folder in which no file can be written.
pub fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let making = path.with_added_extension("making");
    let mut file = file().write(true).create(true).truncate(true).open(&making)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&making, path)?;
    sync_name(path)
}

/// Puts the name of a new file on disk: it stands in its folder.
///
/// # Errors
/// A folder that cannot be synced.
pub fn sync_name(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}
