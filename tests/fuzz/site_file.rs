//! Can any text at all bring down the reading of a site?
#![no_main]

use libfuzzer_sys::fuzz_target;
use plumbsight::files::ron_options;
use plumbsight::site::{Severity, Site, check_text, parse_site, write_new};

fuzz_target!(|text: &str| {
    let told = check_text(text, "fuzz.site.ron");
    for problem in &told.problems {
        assert!(text.get(problem.span.clone()).is_some());
        assert_eq!(problem.line, text[..problem.span.start].matches('\n').count() + 1);
    }
    told.render(false, 80);
    let ron: Option<Site> = ron_options().from_str(text).ok();
    match parse_site(text, "fuzz.site.ron") {
        Ok(site) => {
            assert!(!told.has_errors());
            if let Some(ron) = ron {
                assert_eq!(ron, site);
            }
            assert_eq!(parse_site(&write_new(&site), "again.site.ron"), Ok(site));
        }
        Err(problems) => {
            assert!(problems.has_errors());
            // What RON can read is refused for what it says, not for how it is written.
            let for_the_writing =
                problems.problems.iter().any(|p| p.severity == Severity::Error && p.field.is_empty() && p.item.is_empty());
            assert!(ron.is_none() || !for_the_writing);
        }
    }
});
