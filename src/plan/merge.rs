//! Two windows changed the same plan: what do both of them come to?

use super::contents::{MOST_LAID, Plan, Print, PrintId, free_name};

/// What `mine` and `theirs` come to, both of which were made from `base`: every print that either pinned, every change
/// that either made. Where both changed the same thing, mine holds, but nobody's note is lost; a print that one took
/// away and the other changed stays.
pub fn merge(base: &Plan, mine: &Plan, theirs: &Plan) -> Plan {
    // The sun stands where it does at the moment.
    let light = |plan: &'_ Plan| (plan.sun, plan.moment.clone());
    let (sun, moment) = one(&light(base), &light(mine), &light(theirs));
    let mut plan = Plan {
        format: mine.format,
        prints: Vec::with_capacity(mine.prints.len().max(theirs.prints.len())),
        bag: one(&base.bag, &mine.bag, &theirs.bag),
        folder: one(&base.folder, &mine.folder, &theirs.folder),
        against: one(&base.against, &mine.against, &theirs.against),
        laid: one(&base.laid, &mine.laid, &theirs.laid),
        sun,
        moment,
        tide: one(&base.tide, &mine.tide, &theirs.tide),
        last: one(&base.last, &mine.last, &theirs.last),
        sought: one(&base.sought, &mine.sought, &theirs.sought),
    };
    let order = |plan: &Plan| plan.prints.iter().map(|print| print.id).collect::<Vec<_>>();
    let common = |plan: &Plan| -> Vec<PrintId> {
        let in_all = |id: &PrintId| [base, mine, theirs].iter().all(|plan| plan.print(*id).is_some());
        order(plan).into_iter().filter(in_all).collect()
    };
    let (first, second) = if common(mine) == common(base) { (theirs, mine) } else { (mine, theirs) };
    let mut sequence = order(first);
    sequence.extend(order(second).into_iter().filter(|id| first.print(*id).is_none()));
    for id in sequence {
        let kept = match (base.print(id), mine.print(id), theirs.print(id)) {
            (Some(base), Some(mine), Some(theirs)) => Some(one_print(base, mine, theirs)),
            // Taken away by one: gone, unless the other changed it meanwhile.
            (Some(base), Some(left), None) | (Some(base), None, Some(left)) => (left != base).then(|| left.clone()),
            (None, Some(new), _) | (None, None, Some(new)) => Some(new.clone()),
            (_, None, None) => None,
        };
        if let Some(mut print) = kept {
            if plan.prints.iter().any(|other| other.name == print.name) {
                print.name = free_name(&plan.prints, &print.name);
            }
            plan.prints.push(print);
        }
    }
    plan.laid.truncate(MOST_LAID);
    plan.tidy();
    plan
}

/// What one of the two changed; mine where both did.
fn one<T: Clone + PartialEq>(base: &T, mine: &T, theirs: &T) -> T {
    if mine == base { theirs.clone() } else { mine.clone() }
}

fn one_print(base: &Print, mine: &Print, theirs: &Print) -> Print {
    let both_noted = mine.note != base.note && theirs.note != base.note && mine.note != theirs.note;
    Print {
        id: base.id,
        name: one(&base.name, &mine.name, &theirs.name),
        note: if both_noted {
            format!("{}\n{}", theirs.note, mine.note).trim().to_owned()
        } else {
            one(&base.note, &mine.note, &theirs.note)
        },
        stance: one(&base.stance, &mine.stance, &theirs.stance),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::Stance;

    fn with(names: &[&str]) -> Plan {
        let mut plan = Plan::default();
        for name in names {
            pin(&mut plan, 0, name);
        }
        plan
    }

    fn pin(plan: &mut Plan, salt: u64, name: &str) -> PrintId {
        let id = PrintId::new(salt, plan.prints.len() as u64);
        let stance = Stance::plain(name, (plan.prints.len() as f64, 0.0));
        plan.prints.push(Print { id, name: name.into(), note: String::new(), stance });
        id
    }

    fn names(plan: &Plan) -> Vec<&str> {
        plan.prints.iter().map(|print| print.name.as_str()).collect()
    }

    #[test]
    fn what_both_pinned_is_kept_under_numbers_of_its_own() {
        let base = with(&["a"]);
        let (mut mine, mut theirs) = (base.clone(), base.clone());
        let my_id = pin(&mut mine, 1, "north side");
        (mine.laid, mine.against) = (vec![my_id], Some(my_id));
        let their_id = pin(&mut theirs, 2, "north side");
        assert_ne!(my_id, their_id);
        let merged = merge(&base, &mine, &theirs);
        assert_eq!(names(&merged), ["a", "north side", "north side 2"]);
        assert_eq!((merged.against, &merged.laid), (Some(my_id), &vec![my_id]));
        assert_eq!(merged.print(their_id), theirs.print(their_id));
    }

    #[test]
    fn each_change_of_either_holds() {
        let base = with(&["a", "b", "c", "d"]);
        let (mut mine, mut theirs) = (base.clone(), base.clone());
        mine.prints[0].note = "mine".into();
        theirs.prints[0].note = "theirs".into();
        mine.prints.remove(1);
        theirs.prints[2].name = "sea side".into();
        theirs.prints.swap(0, 3);
        mine.folder = Some("here".into());
        theirs.bag = Some(vec![]);
        let merged = merge(&base, &mine, &theirs);
        assert_eq!(names(&merged), ["d", "sea side", "a"]);
        assert_eq!(merged.prints[2].note, "theirs\nmine");
        assert_eq!((merged.folder, merged.bag), (mine.folder, theirs.bag));
    }

    #[test]
    fn what_one_took_away_and_the_other_changed_stays() {
        let base = with(&["a", "b"]);
        let (mut mine, mut theirs) = (base.clone(), base.clone());
        mine.prints.remove(0);
        theirs.prints[0].note = "come back in May".into();
        theirs.prints.remove(1);
        assert_eq!(names(&merge(&base, &mine, &theirs)), ["a"]);
        assert_eq!(names(&merge(&base, &theirs, &mine)), ["a"]);
    }

    #[test]
    fn nothing_comes_of_nothing() {
        let base = with(&["a", "b"]);
        assert_eq!(merge(&base, &base, &base), base);
        let mut theirs = base.clone();
        pin(&mut theirs, 0, "c");
        assert_eq!(merge(&base, &base, &theirs), theirs);
        assert_eq!(merge(&base, &theirs, &base), theirs);
    }
}
