//! What does an edit change in a text, and how is it taken back?

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// One stretch of a text in place of another: an edit that can be kept in a file, made again and taken back.
///
/// # Example
/// ```
/// use plumbsight::site::TextChange;
/// let mut text = String::from("lift_m: 2.0");
/// let change = TextChange::between(&text, "lift_m: 2.5");
/// assert_eq!((change.at, change.removed.as_str(), change.inserted.as_str()), (10, "0", "5"));
/// change.apply(&mut text).unwrap();
/// change.inverse().apply(&mut text).unwrap();
/// assert_eq!(text, "lift_m: 2.0");
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TextChange {
    /// Where it begins: bytes from the start of the text, between two characters.
    pub at: usize,
    /// What stood there.
    pub removed: String,
    /// What stands there afterwards.
    pub inserted: String,
}

/// A change that was made to another text.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("the text at byte {at} is not what this change replaces; read the file again and make the change anew")]
pub struct ChangeMisfit {
    /// Where the change begins.
    pub at: usize,
}

impl TextChange {
    /// The shortest single change that makes one text of the other.
    pub fn between(before: &str, after: &str) -> Self {
        let same = |a: &u8, b: &u8| a == b;
        let mut head = before.bytes().zip(after.bytes()).take_while(|(a, b)| same(a, b)).count();
        while !before.is_char_boundary(head) || !after.is_char_boundary(head) {
            head -= 1;
        }
        let most = before.len().min(after.len()) - head;
        let pairs = before.bytes().rev().zip(after.bytes().rev());
        let mut tail = pairs.take(most).take_while(|(a, b)| same(a, b)).count();
        while !before.is_char_boundary(before.len() - tail) || !after.is_char_boundary(after.len() - tail) {
            tail -= 1;
        }
        let middle = |text: &str| text.get(head..text.len() - tail).unwrap_or_default().to_owned();
        Self { at: head, removed: middle(before), inserted: middle(after) }
    }

    /// Whether it changes nothing.
    pub fn is_nothing(&self) -> bool {
        self.removed == self.inserted
    }

    /// Makes the change.
    ///
    /// # Errors
    /// The text holds something else there; it is left as it is.
    pub fn apply(&self, text: &mut String) -> Result<(), ChangeMisfit> {
        let fits = text.get(self.at..).is_some_and(|rest| rest.starts_with(&self.removed));
        if !fits {
            return Err(ChangeMisfit { at: self.at });
        }
        text.replace_range(self.at..self.at + self.removed.len(), &self.inserted);
        Ok(())
    }

    /// The change that takes this one back.
    #[must_use]
    pub fn inverse(&self) -> Self {
        Self { at: self.at, removed: self.inserted.clone(), inserted: self.removed.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_lies_between_characters_and_is_taken_back() {
        for (before, after, at, removed, inserted) in [
            ("", "", 0, "", ""),
            ("abc", "abc", 3, "", ""),
            ("aa", "aaa", 2, "", "a"),
            ("é", "è", 0, "é", "è"),
            ("xéy", "xãy", 1, "é", "ã"),
            // The last bytes of 'é' (c3 a9) and '©' (c2 a9) are the same.
            ("é", "©", 0, "é", "©"),
            ("a\r\nb", "a\r\nc\r\nb", 3, "", "c\r\n"),
        ] {
            let change = TextChange::between(before, after);
            assert_eq!((change.at, change.removed.as_str(), change.inserted.as_str()), (at, removed, inserted));
            let mut text = before.to_owned();
            change.apply(&mut text).expect("fits");
            assert_eq!(text, after);
            change.inverse().apply(&mut text).expect("fits");
            assert_eq!(text, before);
        }
    }

    #[test]
    fn a_change_to_another_text_is_refused() {
        let change = TextChange { at: 1, removed: "é".into(), inserted: "e".into() };
        for other in ["", "a", "ae", "ééé"] {
            let mut text = other.to_owned();
            assert_eq!(change.apply(&mut text), Err(ChangeMisfit { at: 1 }));
            assert_eq!(text, other);
        }
    }

    #[test]
    fn a_change_is_kept_in_a_file_and_read_again() {
        let change = TextChange { at: 7, removed: "\"a\"\r\n".into(), inserted: "ü".into() };
        let kept = serde_json::to_string(&change).expect("plain data");
        assert_eq!(serde_json::from_str::<TextChange>(&kept).expect("read"), change);
    }
}
