//! How do names and words leave without changing what stands around them?
//!
//! A name comes from a file that anybody may have written. Characters that turn the direction of text make what follows
//! them read as something else; control characters are no text at all. Neither is needed to write a name in any script.

use std::borrow::Cow;
use std::fmt::{self, Display};
use std::ops::Deref;

/// Whether a character is there only to turn the direction of the text around it.
///
/// # Source
/// Unicode Standard Annex #9, *Unicode Bidirectional Algorithm*, section 2: the characters with the property `Bidi_Control`.
pub const fn is_direction_mark(letter: char) -> bool {
    matches!(letter, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A text without its direction marks: in every script it reads the same, in the order of its letters.
pub fn without_direction_marks(text: &str) -> Cow<'_, str> {
    if text.contains(is_direction_mark) {
        Cow::Owned(text.chars().filter(|letter| !is_direction_mark(*letter)).collect())
    } else {
        Cow::Borrowed(text)
    }
}

/// Text for people: without direction marks, and without control characters other than the ends of lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PlainText(String);

impl PlainText {
    /// Whether there is nothing to read.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl From<&str> for PlainText {
    fn from(text: &str) -> Self {
        let shown = |letter: char| match letter {
            '\n' => Some('\n'),
            '\t' => Some(' '),
            letter if letter.is_control() || is_direction_mark(letter) => None,
            '\u{fffe}' | '\u{ffff}' => None,
            letter => Some(letter),
        };
        Self(text.chars().filter_map(shown).collect())
    }
}

impl From<String> for PlainText {
    fn from(text: String) -> Self {
        text.as_str().into()
    }
}

impl From<&String> for PlainText {
    fn from(text: &String) -> Self {
        text.as_str().into()
    }
}

impl Deref for PlainText {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl Display for PlainText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_text_around_is_taken_out_and_scripts_stay() {
        // All twelve characters of the property, as the standard lists them.
        let marks: String = (0..=0x10_ffff).filter_map(char::from_u32).filter(|c| is_direction_mark(*c)).collect();
        let listed = "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}";
        assert_eq!(marks, listed);
        assert_eq!(without_direction_marks("gate\u{202e}lec.exe"), "gatelec.exe");
        for name in ["שער הים", "بوابة", "yard, standing", "Zoë 📷"] {
            assert!(matches!(without_direction_marks(name), Cow::Borrowed(same) if same == name));
            assert_eq!(&*PlainText::from(name), name);
        }
        assert_eq!(&*PlainText::from("a\u{202e}b\u{0}\u{1b}[31mc\td\ne"), "ab[31mc d\ne");
    }
}
