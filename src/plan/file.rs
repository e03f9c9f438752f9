//! How is a plan read and written, and what is said where it does not read?

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::files::{self, FileError, FileKind};
use crate::light::Moment;
use crate::site::{Finding, PathStep, SiteProblems, check_kept_stance, read_kindred};

use super::{LONGEST_NAME, LONGEST_NOTE, MOST_LAID, MOST_PRINTS, PLAN_FORMAT, Plan};

const HEAD: &str = "// Kept by Plumbsight with the site of the same name: prints, bag, where the walker stood last.\n\
                    // It may be edited by hand; comments are lost when it is saved again.\n";

/// A plan that cannot be read.
#[derive(Debug, Error)]
pub enum PlanError {
    /// The file cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// The file is no plan, one with faults, or one of a newer program.
    #[error(transparent)]
    Problems(#[from] SiteProblems),
}

/// Where the plan of a site is kept: `yard.plan.ron` beside `yard.site.ron`.
pub fn plan_path(site: &Path) -> PathBuf {
    let name = site.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let stem = name.strip_suffix(".site.ron").or_else(|| name.strip_suffix(".ron")).unwrap_or(&name);
    site.with_file_name(format!("{stem}.plan.ron"))
}

/// The plan in a text; `file_name` is what problems call it.
///
/// # Errors
/// Everything that is wrong with it.
///
/// # Example
/// ```
/// let problems = plumbsight::plan::parse_plan("(format: 1, prints: [(id: 1, name: \"\", stance:\n\
///     (name: \"a\", at: (0, 0), height_m: -2, lens: \"35 mm\"))])", "yard.plan.ron").unwrap_err();
/// let found: Vec<_> = problems.problems.iter().map(|p| (p.line, p.field.as_str())).collect();
/// assert_eq!(found, [(1, "prints[0].name"), (2, "prints[0].stance.height_m")]);
/// ```
pub fn parse_plan(text: &str, file_name: &str) -> Result<Plan, SiteProblems> {
    let mut plan = read_kindred(text, file_name, ("the plan", Some(PLAN_FORMAT)), check)?;
    plan.tidy();
    Ok(plan)
}

/// The plan in a file and its text; `None` where there is no such file yet.
///
/// # Errors
/// The file cannot be read, or there is something wrong with it: then everything that is.
pub fn read_plan(path: &Path) -> Result<Option<(Plan, String)>, PlanError> {
    let text = match files::read_text(path, FileKind::Plan) {
        Ok(text) => text,
        Err(FileError::Read { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    Ok(Some((parse_plan(&text, &path.display().to_string())?, text)))
}

/// The plan as its file holds it.
pub fn write_plan(plan: &Plan) -> String {
    let layout = ron::ser::PrettyConfig::new().struct_names(false);
    let body = files::ron_options().to_string_pretty(plan, layout).expect("a plan is plain data");
    format!("{HEAD}{body}\n")
}

fn check(plan: &Plan) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut error = |item: &str, way: &[PathStep], fault: String, allowed: &str, help: &str| {
        found.push(Finding::new(item, way.to_vec(), fault).allowed(allowed).help(help));
    };
    if plan.format == 0 {
        error("the plan", &[PathStep::Field("format")], "is 0".into(), "1", "");
    }
    if plan.prints.len() > MOST_PRINTS {
        let fault = format!("has {} prints", plan.prints.len());
        error("the plan", &[PathStep::Field("prints")], fault, &format!("at most {MOST_PRINTS}"), "");
        return found;
    }
    if plan.laid.len() > MOST_LAID {
        let fault = format!("has {} prints", plan.laid.len());
        error("the plan", &[PathStep::Field("laid")], fault, &format!("at most {MOST_LAID}"), "");
    }
    if let Some(sun) = plan.sun {
        for (field, value, low, high) in
            [("azimuth_deg", sun.azimuth_deg, -360.0, 360.0), ("altitude_deg", sun.altitude_deg, -90.0, 90.0)]
        {
            if !(low..=high).contains(&value) {
                let way = [PathStep::Field("sun"), PathStep::Field(field)];
                error("the sun", &way, format!("is {value}"), &format!("from {low} to {high} °"), "");
            }
        }
    }
    if let Some(moment) = plan.moment.as_deref().filter(|moment| Moment::of_rfc3339(moment).is_none()) {
        let shown: String = moment.chars().take(40).collect();
        let allowed = "a moment in universal time, such as 2026-06-21T13:30:00Z";
        error("the planned moment", &[PathStep::Field("moment")], format!("is '{shown}'"), allowed, "");
    }
    if let Some(Err(wrong)) = plan.sought.as_ref().map(|sought| sought.criteria.check_each()) {
        let way = [PathStep::Field("sought"), PathStep::Field("wishes")];
        error("what was sought", &way, format!("cannot be looked for: {wrong}"), "", "");
    }
    let mut known = BTreeSet::new();
    for (index, print) in plan.prints.iter().enumerate() {
        let item = format!("print '{}'", print.name.chars().take(LONGEST_NAME).collect::<String>());
        let way = |field| [PathStep::Field("prints"), PathStep::Item(index), PathStep::Field(field)];
        if !known.insert(print.id) {
            let fault = format!("is {}, which an earlier print has", print.id.0);
            error(&item, &way("id"), fault, "a number of its own", "");
        }
        if print.name.trim().is_empty() || print.name.chars().count() > LONGEST_NAME {
            let allowed = format!("1 to {LONGEST_NAME} characters");
            error(&item, &way("name"), "is empty or very long".into(), &allowed, "");
        }
        if print.note.chars().count() > LONGEST_NOTE {
            error(&item, &way("note"), "is very long".into(), &format!("at most {LONGEST_NOTE} characters"), "");
        }
    }
    for (index, print) in plan.prints.iter().enumerate() {
        let way = [PathStep::Field("prints"), PathStep::Item(index), PathStep::Field("stance")];
        found.extend(check_kept_stance(&print.stance, format!("print '{}'", print.name), &way));
    }
    if let Some(last) = &plan.last {
        found.extend(check_kept_stance(last, "the last stance".into(), &[PathStep::Field("last")]));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Print, PrintId, SavedSearch};
    use crate::search::Criteria;
    use crate::site::{Aim, Stance, Sun};

    fn full() -> Plan {
        let stance = Stance {
            focal_mm: Some(0.1 + 0.2),
            aim: Aim::Turned { heading_deg: 1.0 / 3.0, pitch_deg: -7.25, roll_deg: 1e-9 },
            on: Some("coal \"stage\"".into()),
            ..Stance::plain("yard, standing", (-12.5, 1e-3))
        };
        let mut plan = Plan { sun: Some(Sun { azimuth_deg: 200.0, altitude_deg: 31.5 }), ..Plan::default() };
        for (name, note) in [("first", ""), ("second", "gate code\nask at the lodge"), ("Überblick – 3", "")] {
            let id = PrintId(plan.prints.len() as u64 + 1);
            plan.prints.push(Print { id, name: name.into(), note: note.into(), stance: stance.clone() });
        }
        plan.bag = Some(vec!["24-70 mm".into(), "24 mm with 12 mm rise".into()]);
        plan.folder = Some("captures/may".into());
        plan.against = Some(PrintId(2));
        plan.laid = vec![PrintId(3), PrintId(1)];
        plan.last = Some(stance);
        plan.sought = Some(SavedSearch {
            criteria: Criteria {
                area: Some([(-10.0, 0.1 + 0.2), (40.0, 60.0)]),
                detail_px_per_m: Some(80.0),
                heights_m: Vec::new(),
                ..Criteria::default()
            },
            lenses: None,
            may_come: vec!["van".into()],
        });
        plan
    }

    #[test]
    fn a_plan_comes_back_as_it_was_written() {
        for plan in [Plan::default(), full()] {
            let text = write_plan(&plan);
            assert_eq!(parse_plan(&text, "t.plan.ron").unwrap_or_else(|problems| panic!("{problems}\n{text}")), plan);
        }
    }

    #[test]
    fn lenses_that_an_older_plan_searches_with_are_packed_unless_a_bag_is() {
        let older = |bag: Option<Vec<String>>| {
            let plan = full();
            let sought = plan.sought.clone().map(|sought| SavedSearch { lenses: Some(vec!["14 mm".into()]), ..sought });
            parse_plan(&write_plan(&Plan { bag, sought, ..plan }), "t.plan.ron").expect("a plan")
        };
        for (bag, packed) in [(None, "14 mm"), (Some(vec!["50 mm".to_owned()]), "50 mm")] {
            let read = older(bag);
            assert_eq!(read.bag, Some(vec![packed.to_owned()]));
            assert_eq!(read.sought.expect("kept").lenses, None);
        }
    }

    #[test]
    fn a_newer_plan_is_refused_with_its_format() {
        let problems = parse_plan("(format: 2, papers: [])", "t.plan.ron").expect_err("newer");
        assert_eq!(problems.problems.len(), 1);
        let text = problems.to_string();
        assert!(text.contains("format is 2") && text.contains("up to 1"), "{text}");
    }

    #[test]
    fn every_fault_of_a_plan_is_told_with_its_place() {
        let text = "(format: 1,\n prints: [\n  (id: 1, name: \"a\", stance: (name: \"a\", at: (0, 1e9), lens: \"35 mm\")),\n  \
                    (id: 1, name: \"b\", stance: (name: \"b\", at: (0, 0), lens: \"35 mm\", f_number: 1e99)),\n ],\n \
                    sun: (azimuth_deg: 10, altitude_deg: 95),\n sought: (wishes: (seen_share: 2)),\n)";
        let problems = parse_plan(text, "t.plan.ron").expect_err("faults");
        let found: Vec<_> = problems.problems.iter().map(|p| (p.line, p.field.as_str())).collect();
        let expected = [
            (3, "prints[0].stance.at"),
            (4, "prints[1].id"),
            (4, "prints[1].stance.f_number"),
            (6, "sun.altitude_deg"),
            (7, "sought.wishes"),
        ];
        assert_eq!(found, expected);
        let problems = parse_plan("(format: 1, prins: [])", "t.plan.ron").expect_err("a slip");
        assert!(problems.to_string().contains("prins"), "{problems}");
    }

    #[test]
    fn a_print_that_is_gone_is_neither_laid_nor_compared_with() {
        let plan = parse_plan("(format: 1, against: 7, laid: [7])", "t.plan.ron").expect("in order");
        assert_eq!((plan.against, plan.laid), (None, vec![]));
    }

    #[test]
    fn a_plan_lies_beside_its_site() {
        assert_eq!(plan_path(Path::new("a/yard.site.ron")), Path::new("a/yard.plan.ron"));
        assert_eq!(plan_path(Path::new("yard.ron")), Path::new("yard.plan.ron"));
        assert_eq!(plan_path(Path::new("yard")), Path::new("yard.plan.ron"));
    }
}
