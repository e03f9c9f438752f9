//! How are the program's other files read, so that their errors are reported as those of a site file?

use serde::de::DeserializeOwned;

use crate::files;

use super::file::{ron_read_with, start_of};
use super::problem::{Collected, Finding, PathStep, SiteProblems};
use super::value_tree::walk_text;

/// What a text in RON describes, checked by `check`; one of a newer format than `newest` is refused as a whole.
///
/// # Errors
/// Everything that is wrong with the writing; else the first thing that RON refuses; else all that the check finds.
pub fn read_kindred<T: DeserializeOwned>(
    text: &str,
    file_name: &str,
    (item, newest): (&str, Option<u32>),
    check: impl FnOnce(&T) -> Vec<Finding>,
) -> Result<T, SiteProblems> {
    let mut collected = Collected::new(text);
    let tree = walk_text(text, start_of(text));
    for slip in tree.slips {
        collected.broken(slip.span, slip.fault, slip.help);
    }
    let root = tree.root;
    let format = root.as_ref().and_then(|root| root.field("format", text)).map(|field| field.value.span.of(text));
    let format = format.and_then(|format| files::ron_options().from_str::<u32>(format).ok());
    if let (Some(format), Some(newest)) = (format, newest)
        && format > newest
    {
        let finding = Finding::new(item, vec![PathStep::Field("format")], format!("is {format}"));
        let finding = finding.allowed(format!("up to {newest}")).help(format!(
            "a newer program wrote this file, in format {format}; this is plumbsight {}, which reads format {newest}",
            env!("CARGO_PKG_VERSION"),
        ));
        let mut newer = Collected::new(text);
        newer.finding(finding, root.as_ref());
        return Err(newer.in_order(file_name));
    }
    if !collected.is_empty() {
        return Err(collected.in_order(file_name));
    }
    match ron_read_with::<T>(&files::ron_options(), text) {
        Ok(read) => {
            for finding in check(&read) {
                collected.finding(finding, root.as_ref());
            }
            let problems = collected.in_order(file_name);
            if problems.has_errors() { Err(problems) } else { Ok(read) }
        }
        Err((at, message)) => {
            collected.broken(at, message, "");
            Err(collected.in_order(file_name))
        }
    }
}
