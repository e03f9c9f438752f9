//! How is what was found put into words?

use std::fmt;
use std::path::Path;

/// The last part of a path.
pub(super) fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// The first few of many names.
pub(super) fn some_of<T: fmt::Display>(names: &[T]) -> String {
    const SHOWN: usize = 5;
    let mut text = names.iter().take(SHOWN).map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN {
        text.push_str(&format!(" and {} more", names.len() - SHOWN));
    }
    text
}

/// A number with what it counts.
pub(super) fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
