//! Files and folders that nobody but their owner looks into, and names that are on disk.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;
use uuid::Uuid;

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

/// Makes a file that is not there yet, at once and for good: whoever reads it finds it whole.
///
/// # Errors
/// A file that is there; a folder in which none can be written.
pub fn create(path: &Path, text: &str) -> io::Result<()> {
    name_whole(path, text, |making| {
        fs::hard_link(making, path)?;
        fs::remove_file(making)
    })
}

/// Puts a file in the place of another, at once and for good: whoever reads finds the old or the new one whole.
///
/// # Errors
/// A folder in which no file can be written.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    name_whole(path, text, |making| fs::rename(making, path))
}

/// Writes a file beside its place and then gives it its name.
fn name_whole(path: &Path, text: &str, name: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    let making = path.with_added_extension(Uuid::new_v4().simple().to_string());
    let mut file = file().write(true).create_new(true).open(&making)?;
    let named = file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).and_then(|()| name(&making));
    if named.is_err() {
        let _ = fs::remove_file(&making);
    }
    named.and_then(|()| sync_name(path))
}

/// Puts the name of a new file on disk: it stands in its folder.
///
/// # Errors
/// A folder that cannot be synced.
pub fn sync_name(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}
