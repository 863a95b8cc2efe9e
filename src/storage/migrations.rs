//! The migrations of each database, as the program carries them: the files under `migrations/`.

use sqlx::SqlSafeStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

/// The name of a file and its statements.
type File = (&'static str, &'static str);

const SQLITE: &[File] = &[("0001_start.sql", include_str!("../../migrations/sqlite/0001_start.sql"))];
const POSTGRES: &[File] = &[("0001_start.sql", include_str!("../../migrations/postgres/0001_start.sql"))];

pub(super) fn sqlite() -> Migrator {
    migrator(SQLITE)
}

pub(super) fn postgres() -> Migrator {
    migrator(POSTGRES)
}

fn migrator(files: &[File]) -> Migrator {
    let migration = |n: usize, (name, statements): &File| {
        let title = name.trim_end_matches(".sql").trim_start_matches(|c: char| c.is_ascii_digit() || c == '_');
        let (version, statements) = (n as i64 + 1, statements.into_sql_str());
        Migration::new(version, title.into(), MigrationType::Simple, statements, false)
    };
    Migrator::with_migrations(files.iter().enumerate().map(|(n, file)| migration(n, file)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn every_file_is_carried_in_the_order_of_its_number() {
        for (folder, carried) in [("migrations/sqlite", SQLITE), ("migrations/postgres", POSTGRES)] {
            let mut there: Vec<String> =
                fs::read_dir(folder).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
            there.sort_unstable();
            assert_eq!(carried.iter().map(|(name, _)| *name).collect::<Vec<_>>(), there, "{folder}");
            let numbers: Vec<_> = there.iter().map(|name| name[..4].parse::<usize>().unwrap()).collect();
            assert_eq!(numbers, (1..=there.len()).collect::<Vec<_>>(), "{folder}");
        }
    }
}
