//! SQLite's file as the operating system sees it: its owner's alone, and whole.

use std::fs::{self, OpenOptions, Permissions};
use std::io::ErrorKind;
use std::os::unix::fs::{OpenOptionsExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};

use super::{Pools, Store, StoreError};

/// What its owner alone may read and write.
const OWNERS: u32 = 0o600;

/// Rights of those who aren't the owner.
const OF_OTHERS: u32 = 0o077;

/// SQLite gives the files beside it the rights of the first.
const BESIDE: [&str; 2] = ["-wal", "-shm"];

/// Says `ok` alone, or what is damaged.
pub(super) const QUICK_CHECK: &str = "pragma quick_check(10)";

pub(super) const OPTIMIZE: &str = "pragma optimize(0x10002)";
/// As far as no reader needs it; SQLite cuts it when it begins it anew. Nobody waits for that.
pub(super) const COPY_LOG_HOME: &str = "pragma wal_checkpoint(passive)";

/// Makes the file where it isn't there, and takes others' rights to it away where they have any: it holds everything.
/// What can't be made is SQLite's to tell; rights that can't be taken away are logged.
pub(super) fn keep_from_others(file: &Path) {
    let made = OpenOptions::new().write(true).create_new(true).mode(OWNERS).open(file);
    if made.is_ok() {
        return;
    }
    let beside = BESIDE.iter().map(|end| {
        let mut path = file.as_os_str().to_owned();
        path.push(end);
        PathBuf::from(path)
    });
    for file in std::iter::once(file.to_owned()).chain(beside) {
        match narrow(&file) {
            Ok(false) => {}
            Ok(true) => {
                tracing::info!(file = %file.display(), "others could read the file, and can't any more")
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => {
                tracing::warn!(file = %file.display(), error = %error, "others may read or write the file");
            }
        }
    }
}

/// Whether others had rights to the file, which they have no more.
fn narrow(file: &Path) -> std::io::Result<bool> {
    let mode = fs::metadata(file)?.permissions().mode();
    if mode & OF_OTHERS == 0 {
        return Ok(false);
    }
    fs::set_permissions(file, Permissions::from_mode(mode & !OF_OTHERS))?;
    Ok(true)
}

impl Store {
    /// Whether SQLite finds its file whole; what is damaged is logged. Postgres has tools of its own for that.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]; [`StoreError::Defect`] when the file is no database.
    pub async fn is_sound(&self) -> Result<bool, StoreError> {
        let Pools::Sqlite { writer, .. } = &self.pools else { return Ok(true) };
        let found: Vec<String> = sqlx::query_scalar(QUICK_CHECK).fetch_all(writer).await?;
        let damaged: Vec<&String> = found.iter().filter(|line| *line != "ok").collect();
        for line in &damaged {
            tracing::error!(line, "the database's file is damaged");
        }
        Ok(damaged.is_empty() && !found.is_empty())
    }

    /// Lets SQLite look again at what its plans rest on, and copy its log home. Nothing for
    /// Postgres, which does both by itself.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn tidy(&self) -> Result<(), StoreError> {
        let Pools::Sqlite { writer, .. } = &self.pools else { return Ok(()) };
        for statement in [OPTIMIZE, COPY_LOG_HOME] {
            sqlx::query(statement).execute(writer).await?;
        }
        Ok(())
    }
}
