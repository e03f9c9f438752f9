//! Which heights does an Esri ASCII grid hold?
//!
//! The header words stand in any order and case; heights follow row by row from the north, wrapped over lines as the
//! writer pleased. Posts are the centres of the cells.
//!
//! # Source
//! Esri, *Esri ASCII raster format*, ArcMap 10.6 documentation: XLLCORNER or XLLCENTER, first row on top, NODATA −9999
//! unless given. The words `dx` and `dy` for cells that are no squares are common practice.

use thiserror::Error;

use super::grid_layout::{GridLayout, Window};
use crate::site::GROUND_HEIGHTS_M;

/// What stands for "no height" where the file does not say.
const DEFAULT_NODATA: f64 = -9999.0;
/// By what share of itself a number may change when it is written in single precision.
const SINGLE_PRECISION: f64 = 1e-7;
/// The longest piece of a file that is quoted.
const LONGEST_QUOTE: usize = 24;

/// What is wrong with a grid file.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum GridProblem {
    /// A header word without its number, or with more than one.
    #[error("line {line}: '{word}' is followed by '{value}', where one number is meant")]
    HeaderValue {
        /// Where.
        line: usize,
        /// The header word.
        word: String,
        /// What follows it.
        value: String,
    },
    /// A header word outside its range.
    #[error("line {line}: '{word}' is {value}; {meant}")]
    HeaderRange {
        /// Where.
        line: usize,
        /// The header word.
        word: String,
        /// Its value.
        value: String,
        /// What is allowed.
        meant: &'static str,
    },
    /// A header word twice, or two that say the same.
    #[error("line {line}: '{word}' says again what stands above; take one of them out")]
    HeaderTwice {
        /// Where.
        line: usize,
        /// The second one.
        word: String,
    },
    /// Neither a header word nor a number.
    #[error(
        "line {line}: '{word}' is neither a number nor one of the header words ncols, nrows, xllcorner, xllcenter, \
         yllcorner, yllcenter, cellsize, dx, dy, nodata_value"
    )]
    UnknownWord {
        /// Where.
        line: usize,
        /// What stands there.
        word: String,
    },
    /// A header that lacks a word.
    #[error("line {line}: the header ends without '{word}'")]
    HeaderLacks {
        /// Where it ends.
        line: usize,
        /// What is missing.
        word: &'static str,
    },
    /// More posts promised than the file has room for.
    #[error(
        "the header promises {columns} × {rows} heights, more than {bytes} bytes can hold; the file is cut short or its header is wrong"
    )]
    Promises {
        /// Posts along a row.
        columns: u64,
        /// Rows.
        rows: u64,
        /// Bytes after the header.
        bytes: usize,
    },
    /// Something among the heights that is none.
    #[error("line {line}: '{word}' is no height in metres from {lowest} to {highest} (decimal point, not comma)", lowest = GROUND_HEIGHTS_M.start(), highest = GROUND_HEIGHTS_M.end())]
    NoHeight {
        /// Where.
        line: usize,
        /// What stands there.
        word: String,
    },
    /// A row of another length than the others.
    #[error(
        "line {line}: a row of {found} where {columns} are promised; {total} heights were read where {columns} × {rows} are promised"
    )]
    RowLength {
        /// Where.
        line: usize,
        /// Heights on that line.
        found: u64,
        /// Posts along a row.
        columns: u64,
        /// Rows.
        rows: u64,
        /// Heights in the file.
        total: u64,
    },
    /// Too few or too many heights.
    #[error("line {line}: the file ends after {total} heights, and {columns} × {rows} are promised")]
    Count {
        /// The last line with a height.
        line: usize,
        /// Heights in the file.
        total: u64,
        /// Posts along a row.
        columns: u64,
        /// Rows.
        rows: u64,
    },
    /// Not one post with a height.
    #[error("not one of the wanted posts has a height, all are without data")]
    NoHeights,
}

/// What stands above the heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Header {
    /// Where the posts lie, which are the centres of the cells.
    pub(super) layout: GridLayout,
    nodata: f64,
    /// The line, from 0, on which the heights begin.
    first_line: usize,
}

/// The header words, those of each row saying the same thing.
const WORDS: [&[&str]; 7] = [
    &["ncols"],
    &["nrows"],
    &["xllcorner", "xllcenter", "xllcentre"],
    &["yllcorner", "yllcenter", "yllcentre"],
    &["cellsize", "dx"],
    &["dy"],
    &["nodata_value", "nodata"],
];

fn word_of(token: &str) -> Option<usize> {
    WORDS.iter().position(|words| words.iter().any(|word| token.eq_ignore_ascii_case(word)))
}

/// Whether a text begins with a header word.
pub(super) fn begins_like_one(text: &str) -> bool {
    text.split_whitespace().next().is_some_and(|token| word_of(token).is_some())
}

/// A number as grids have it: with Fortran's D exponents, and not-a-number in its several spellings.
fn number(token: &str) -> Option<f64> {
    let bare = token.trim_start_matches(['+', '-']);
    if bare.get(..3).is_some_and(|start| start.eq_ignore_ascii_case("nan"))
        || bare.starts_with("1.#QNAN")
        || bare.starts_with("1.#IND")
    {
        return Some(f64::NAN);
    }
    token.parse().ok().or_else(|| token.replace(['d', 'D'], "e").parse().ok())
}

fn quoted(token: &str) -> String {
    let mut quote: String = token.chars().map(|c| if c.is_control() { ' ' } else { c }).take(LONGEST_QUOTE).collect();
    if token.chars().count() > LONGEST_QUOTE {
        quote.push('…');
    }
    quote
}

impl Header {
    /// Reads the header and checks that the file has room for what it promises.
    pub(super) fn read(text: &str) -> Result<Self, GridProblem> {
        // For each row of WORDS: its value as written, its number and its line.
        let mut found: [Option<(&str, f64, usize)>; WORDS.len()] = [None; WORDS.len()];
        let mut in_middle = [false; WORDS.len()];
        let mut by_dx = false;
        let mut heights = None;
        let mut after_header = text.len();
        for (index, line) in text.split('\n').enumerate() {
            let mut tokens = line.split_whitespace();
            let Some(token) = tokens.next() else { continue };
            let Some(word) = word_of(token) else {
                if number(token).is_none() {
                    return Err(GridProblem::UnknownWord { line: index + 1, word: quoted(token) });
                }
                heights = Some(index);
                // Both are slices of one text.
                after_header = line.as_ptr() as usize - text.as_ptr() as usize;
                break;
            };
            let value = match (tokens.next(), tokens.next()) {
                (Some(value), None) => value,
                (first, _) => {
                    let value = first.map_or("nothing".into(), |_| quoted(line.trim_start()[token.len()..].trim()));
                    return Err(GridProblem::HeaderValue { line: index + 1, word: quoted(token), value });
                }
            };
            let number = number(value).ok_or_else(|| GridProblem::HeaderValue {
                line: index + 1,
                word: quoted(token),
                value: quoted(value),
            })?;
            if found[word].is_some() {
                return Err(GridProblem::HeaderTwice { line: index + 1, word: quoted(token) });
            }
            found[word] = Some((value, number, index + 1));
            let last_letters = token.to_ascii_lowercase();
            in_middle[word] = last_letters.ends_with("center") || last_letters.ends_with("centre");
            by_dx |= last_letters == "dx";
        }
        let first_line = heights.unwrap_or_else(|| text.split('\n').count());
        let lacking = |word: usize| GridProblem::HeaderLacks { line: first_line + 1, word: WORDS[word][0] };
        let given = |word: usize| found[word].ok_or_else(|| lacking(word));
        let out_of_range = |word: usize, meant: &'static str| {
            let (value, _, line) = found[word].unwrap_or(("", f64::NAN, first_line + 1));
            GridProblem::HeaderRange { line, word: WORDS[word][0].into(), value: quoted(value), meant }
        };
        let count = |word: usize| {
            let (_, number, _) = given(word)?;
            let whole = number.fract() == 0.0 && (2.0..9e15).contains(&number);
            if whole { Ok(number as u64) } else { Err(out_of_range(word, "a whole number of at least 2 is meant")) }
        };
        let size = |word: usize| {
            let (_, number, _) = given(word)?;
            let real = number > 0.0 && number.is_finite();
            if real { Ok(number) } else { Err(out_of_range(word, "a length above 0 is meant")) }
        };
        let corner = |word: usize| {
            let (_, number, _) = given(word)?;
            if number.is_finite() { Ok(number) } else { Err(out_of_range(word, "a coordinate is meant")) }
        };
        let (columns, rows) = (count(0)?, count(1)?);
        let (x, y) = (corner(2)?, corner(3)?);
        let across = size(4)?;
        let up = match (found[5], by_dx) {
            (None, false) => across,
            (None, true) => return Err(lacking(5)),
            (Some(_), true) => size(5)?,
            (Some((_, _, line)), false) => return Err(GridProblem::HeaderTwice { line, word: "dy".into() }),
        };
        // Each height takes a digit at least and something to part it from the next.
        let bytes = text.len() - after_header;
        if columns.checked_mul(rows).is_none_or(|posts| posts > bytes as u64 / 2 + 1) {
            return Err(GridProblem::Promises { columns, rows, bytes });
        }
        let post = |edge: f64, in_middle: bool, size: f64| if in_middle { edge } else { edge + 0.5 * size };
        Ok(Self {
            layout: GridLayout {
                columns,
                rows,
                spacing: (across, up),
                south_west: (post(x, in_middle[2], across), post(y, in_middle[3], up)),
            },
            nodata: found[6].map_or(DEFAULT_NODATA, |(_, number, _)| number),
            first_line,
        })
    }

    /// The heights of a window, row by row from the *north*; NaN where there is none.
    ///
    /// Everything is read and counted, also what is not wanted.
    pub(super) fn posts(&self, text: &str, window: &Window) -> Result<Vec<f64>, GridProblem> {
        let GridLayout { columns: columns_promised, rows: rows_promised, .. } = self.layout;
        let promised = columns_promised * rows_promised;
        // Rows from the north.
        let wanted_rows = rows_promised - window.rows.end..rows_promised - window.rows.start;
        let mut posts = Vec::with_capacity(window.posts() as usize);
        let (mut row, mut column) = (0, 0);
        let mut total = 0_u64;
        let mut last_line = self.first_line;
        // Whether each line so far was a row, and the first that was not.
        let mut odd_line = None;
        for (index, line) in text.split('\n').enumerate().skip(self.first_line) {
            let before = total;
            for token in line.split_whitespace() {
                let no_height = || GridProblem::NoHeight { line: index + 1, word: quoted(token) };
                let value = number(token).ok_or_else(no_height)?;
                total += 1;
                if total > promised {
                    continue;
                }
                // Most grids are written from single-precision numbers, of which the mark may show more or fewer digits.
                let marked = (value - self.nodata).abs() <= SINGLE_PRECISION * self.nodata.abs();
                let missing = value.is_nan() || value == self.nodata || marked;
                if !missing && !GROUND_HEIGHTS_M.contains(&value) {
                    return Err(no_height());
                }
                if window.columns.contains(&column) && wanted_rows.contains(&row) {
                    posts.push(if missing { f64::NAN } else { value });
                }
                column += 1;
                if column == columns_promised {
                    (row, column) = (row + 1, 0);
                }
            }
            if total > before {
                last_line = index;
                if odd_line.is_none() && total - before != columns_promised {
                    odd_line = Some((index, total - before, before));
                }
            }
        }
        if total == promised {
            return Ok(posts);
        }
        let (columns, rows) = (columns_promised, rows_promised);
        match odd_line {
            // At least one line before it was a whole row: then lines are rows.
            Some((index, found, before)) if before > 0 => {
                Err(GridProblem::RowLength { line: index + 1, found, columns, rows, total })
            }
            _ => Err(GridProblem::Count { line: last_line + 1, total, columns, rows }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(header: &Header) -> Window {
        Window { columns: 0..header.layout.columns, rows: 0..header.layout.rows }
    }

    fn read(text: &str) -> Result<(Header, Vec<f64>), GridProblem> {
        let header = Header::read(text)?;
        let posts = header.posts(text, &whole(&header))?;
        Ok((header, posts))
    }

    /// The worked header of Esri's documentation: cells of 30 whose lower left corner is at (378923, 4072345). The first
    /// value's centre is computed from it.
    #[test]
    fn the_published_header_puts_its_first_value_where_it_belongs() {
        let mut text =
            "NCOLS 480\nNROWS 450\nXLLCORNER 378923\nYLLCORNER 4072345\nCELLSIZE 30\nNODATA_VALUE -32768\n".to_owned();
        text.push_str(&"43 ".repeat(480 * 450));
        let header = Header::read(&text).expect("a header");
        assert_eq!((header.layout.columns, header.layout.rows, header.nodata), (480, 450, -32768.0));
        assert_eq!(header.layout.post(0.0, 449.0), (378_938.0, 4_085_830.0));
        assert_eq!(header.layout.grid_from_map((378_938.0, 4_085_830.0)), (0.0, 449.0));
    }

    #[test]
    fn headers_come_in_any_order_and_case() {
        let (header, posts) =
            read("\r\nnodata nan\r\nYLLCENTER 5\r\nxllcorner 1.d1\r\nDy 2\r\nnRows 2\r\ndX 4\r\nncols 3.0\r\n1 2\r\n\r\n3 4 5 NaN")
                .expect("a grid");
        assert_eq!(header.layout.spacing, (4.0, 2.0));
        assert_eq!(header.layout.south_west, (12.0, 5.0));
        assert_eq!(posts[..5], [1.0, 2.0, 3.0, 4.0, 5.0]);
        assert!(posts[5].is_nan());
    }

    #[test]
    fn a_window_is_cut_out_of_the_whole() {
        let text = "ncols 4\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3 4\n5 6 7 8\n9 10 11 12\n";
        let header = Header::read(text).expect("a header");
        let window = Window { columns: 1..3, rows: 0..2 };
        assert_eq!(header.posts(text, &window).expect("heights"), [6.0, 7.0, 10.0, 11.0]);
        assert_eq!(header.posts(text, &whole(&header)).expect("heights").len(), 12);
    }

    #[test]
    fn heights_without_data_are_found_as_written_or_as_rounded() {
        let (_, posts) = read(
            "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nnodata_value -3.4028234663852886e+38\n1 -3.40282347e+38 -3.4028235e38 4",
        )
        .expect("a grid");
        assert_eq!(posts.iter().filter(|post| post.is_nan()).count(), 2);
        let (_, posts) =
            read("ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 -9999 -9999.0 4").expect("a grid");
        assert_eq!(posts.iter().filter(|post| post.is_nan()).count(), 2);
    }

    #[test]
    fn bad_grids_are_refused_by_line() {
        let header = "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n";
        let with = |rest: &str| format!("{header}{rest}");
        for (text, message) in [
            ("".into(), "line 2: the header ends without 'ncols'"),
            ("ncols 2\n1 2".into(), "line 2: the header ends without 'nrows'"),
            ("ncols\n".into(), "line 1: 'ncols' is followed by 'nothing'"),
            ("ncols 2 3\n".into(), "line 1: 'ncols' is followed by '2 3'"),
            ("ncols two\n".into(), "line 1: 'ncols' is followed by 'two'"),
            (with("ncols 2\n1 2 3 4"), "line 6: 'ncols' says again"),
            (with("dy 2\n1 2 3 4"), "line 6: 'dy' says again"),
            (with("fill 7\n1 2 3 4"), "line 6: 'fill' is neither"),
            (with("1 2 3"), "promises 2 × 2 heights, more than 5 bytes"),
            (with("1.5 2.5 3.5"), "line 6: the file ends after 3 heights"),
            (with("1.5 2.5\n3.5"), "line 7: a row of 1"),
            (with("1 2\n3 4 5"), "line 7: a row of 3"),
            (with("1 2 3 4 5"), "line 6: the file ends after 5 heights"),
            (with("1 2 3 x"), "line 6: 'x' is no height"),
            (with("1 2 3 inf"), "line 6: 'inf' is no height"),
            (with("1 2 3 1e38"), "line 6: '1e38' is no height"),
            (with("1 2\n3 4,5"), "line 7: '4,5' is no height"),
            (header.replace("ncols 2", "ncols 1e12"), "promises 1000000000000 × 2 heights"),
            (
                header.replace("ncols 2", "ncols 4e9").replace("nrows 2", "nrows 9e9"),
                "promises 4000000000 × 9000000000",
            ),
            (header.replace("ncols 2", "ncols 1e300"), "line 1: 'ncols' is 1e300"),
            (header.replace("ncols 2", "ncols nan"), "line 1: 'ncols' is nan"),
            (header.replace("nrows 2", "nrows -2"), "line 2: 'nrows' is -2"),
            (header.replace("nrows 2", "nrows 1"), "line 2: 'nrows' is 1"),
            (header.replace("nrows 2", "nrows 2.5"), "line 2: 'nrows' is 2.5"),
            (header.replace("cellsize 1", "cellsize 0"), "line 5: 'cellsize' is 0"),
            (header.replace("cellsize 1", "cellsize inf"), "line 5: 'cellsize' is inf"),
            (header.replace("cellsize 1", "dx 1"), "ends without 'dy'"),
            (header.replace("xllcorner 0", "xllcorner nan"), "line 3: 'xllcorner' is nan"),
        ] {
            let error = read(&text).expect_err("refused").to_string();
            assert!(error.contains(message), "{text}\n{error}");
        }
    }
}
