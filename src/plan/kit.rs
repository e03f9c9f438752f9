//! Which formats and lenses does the person own, beyond those the program comes with?

use std::path::Path;

use crate::files::{self, FileError, FileKind};
use crate::optics::Kit;
use crate::site::{SiteProblems, check_kit, read_kindred};

use super::{PlanError, plan_path, read_plan};

/// What the file is called in the program's configuration folder.
pub const KIT_FILE: &str = "kit.ron";

/// The kit in a text: `(formats: […], lenses: […])`, written as in a site file.
///
/// # Errors
/// Everything that is wrong with it.
///
/// # Example
/// ```
/// use plumbsight::plan::parse_kit;
/// let kit = parse_kit("(lenses: [(name: \"55 mm\", focal_mm: 55, widest_f: 1.4)])", "kit.ron").unwrap();
/// assert_eq!(kit.lenses[0].widest_f, 1.4);
/// let refused = parse_kit("(lenses: [\n(name: \"55 mm\", focal_mm: 0)])", "kit.ron").unwrap_err();
/// assert_eq!((refused.problems[0].line, refused.problems[0].field.as_str()), (2, "lenses[0].focal_mm"));
/// ```
pub fn parse_kit(text: &str, file_name: &str) -> Result<Kit, SiteProblems> {
    read_kindred(text, file_name, ("the kit", None), check_kit)
}

/// The lenses in the bag that is packed in the plan beside a site, by name: what walking, ways and search try. `None` where
/// nothing is packed, or there is no plan.
///
/// # Errors
/// The plan cannot be read.
pub fn packed_bag(site: &Path) -> Result<Option<Vec<String>>, PlanError> {
    let plan = read_plan(&plan_path(site))?;
    Ok(plan.and_then(|(plan, _)| plan.bag).filter(|bag| !bag.is_empty()))
}

/// The person's own kit, from the program's configuration folder; `None` where there is none.
///
/// # Errors
/// The file cannot be read, or there is something wrong with it: then everything that is.
pub fn read_own_kit(configuration: &Path) -> Result<Option<Kit>, PlanError> {
    let path = configuration.join(KIT_FILE);
    match files::read_text(&path, FileKind::Kit) {
        Ok(text) => Ok(Some(parse_kit(&text, &path.display().to_string())?)),
        Err(FileError::Read { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error.into()),
    }
}
