//! Which file of a crate uses which other?
//!
//! Read from the tokens of the source, so that comments, strings and line breaks do not mislead. A path is followed through
//! `use` and re-exports to the file that defines its item: `super::Criteria`, re-exported by `search/mod.rs`, is an arrow to
//! `search/criteria.rs`. A path inside a macro's call counts as well. A re-export alone is no arrow: a module that only lists
//! what its files offer uses none of it; it does where its own code names it. What no path shows, such as a method or a
//! field of a type that another file gave, is no arrow either.

use std::collections::{BTreeMap, BTreeSet};

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// What each file uses, by their numbers, each with one path that shows it.
pub(crate) struct Imports {
    names: Vec<String>,
    used: Vec<BTreeMap<usize, String>>,
}

/// A token as far as paths are concerned.
#[derive(Clone, Debug)]
enum Token {
    Word(String),
    /// `::`
    Colons,
    Mark(char),
    Group(Delimiter, Vec<Self>),
    Literal,
}

/// A module, of a file of its own or written inside one.
#[derive(Default)]
struct Module {
    file: usize,
    /// What it brings in by `use`: for each name, its path.
    imports: BTreeMap<String, Vec<String>>,
    /// The paths of `use path::*`.
    globs: Vec<Vec<String>>,
    /// The names of its items.
    items: BTreeSet<String>,
    /// All paths of more than one word that stand in its code, those of private `use` among them.
    paths: Vec<Vec<String>>,
    /// What it offers on by `pub use`: names and paths.
    offered: Vec<(String, Vec<String>)>,
    /// Every word of its code outside `use`.
    words: BTreeSet<String>,
}

/// By its path from the crate's root.
type Modules = BTreeMap<Vec<String>, Module>;

impl Imports {
    /// Reads files of one crate, each by its name from the crate's source folder (`site/read.rs`) and its text.
    ///
    /// # Errors
    /// A file that is no Rust, with its name.
    pub(crate) fn read(files: &[(String, String)]) -> Result<Self, String> {
        let mut modules = Modules::new();
        for (file, (name, text)) in files.iter().enumerate() {
            let stream: TokenStream = text.parse().map_err(|error| format!("{name}: {error}"))?;
            collect(&mut modules, file, module_of(name), &tokens(stream));
        }
        let mut used = vec![BTreeMap::new(); files.len()];
        for (path, module) in &modules {
            let named = module.offered.iter().filter(|(name, _)| module.words.contains(name)).map(|(_, path)| path);
            for written in module.paths.iter().chain(named) {
                let Some(file) = file_of(&modules, path, written, 0) else { continue };
                if file != module.file {
                    used[module.file].entry(file).or_insert_with(|| written.join("::"));
                }
            }
        }
        Ok(Self { names: files.iter().map(|(name, _)| name.clone()).collect(), used })
    }

    /// Every arrow: who uses whom, and a path that shows it.
    pub(crate) fn arrows(&self) -> impl Iterator<Item = (&str, &str, &str)> {
        self.used.iter().enumerate().flat_map(move |(from, used)| {
            used.iter().map(move |(to, path)| (self.names[from].as_str(), self.names[*to].as_str(), path.as_str()))
        })
    }

    /// Every arrow from a module of the crate's root to one that comes later in an `order` of them, or that is not in it.
    pub(crate) fn upward(&self, order: &[String]) -> Vec<String> {
        let place = |file: &str| {
            let module = module_of(file).into_iter().next()?;
            order.iter().position(|known| *known == module)
        };
        let is_root = |file: &str| module_of(file).is_empty();
        self.arrows()
            .filter(|(from, to, _)| !is_root(from) && place(from).zip(place(to)).is_none_or(|(from, to)| from < to))
            .map(|(from, to, path)| format!("{from} uses {to} by {path}"))
            .collect()
    }

    /// For every file that uses itself by way of others, a shortest such way, told once for the files on it.
    pub(crate) fn circles(&self) -> Vec<String> {
        let mut told = BTreeSet::new();
        let mut circles = Vec::new();
        for start in 0..self.names.len() {
            if told.contains(&start) {
                continue;
            }
            if let Some(circle) = self.circle_from(start) {
                let arrow = |pair: &[usize]| {
                    format!("  {} -> {} by {}", self.names[pair[0]], self.names[pair[1]], self.used[pair[0]][&pair[1]])
                };
                circles.push(circle.windows(2).map(arrow).collect::<Vec<_>>().join("\n"));
                told.extend(circle);
            }
        }
        circles
    }

    /// A shortest way from a file back to it, both ends named.
    fn circle_from(&self, start: usize) -> Option<Vec<usize>> {
        let mut reached_from: BTreeMap<usize, usize> = BTreeMap::new();
        let mut front = vec![start];
        while !front.is_empty() && !reached_from.contains_key(&start) {
            let mut next = Vec::new();
            for &from in &front {
                for &to in self.used[from].keys() {
                    if let std::collections::btree_map::Entry::Vacant(entry) = reached_from.entry(to) {
                        entry.insert(from);
                        next.push(to);
                    }
                }
            }
            front = next;
        }
        let mut way = vec![start, *reached_from.get(&start)?];
        while way.last() != Some(&start) {
            way.push(reached_from[&way[way.len() - 1]]);
        }
        way.reverse();
        Some(way)
    }
}

/// The path of a file's module: `site/read.rs` and `site/read/mod.rs` are both `site::read`.
fn module_of(name: &str) -> Vec<String> {
    let mut path: Vec<String> = name.trim_end_matches(".rs").split('/').map(String::from).collect();
    if path.last().is_some_and(|last| last == "mod" || (path.len() == 1 && last == "lib")) {
        path.pop();
    }
    path
}

fn tokens(stream: TokenStream) -> Vec<Token> {
    let mut tokens: Vec<Token> = Vec::new();
    let mut joint_colon = false;
    for tree in stream {
        let colon = matches!(&tree, TokenTree::Punct(mark) if mark.as_char() == ':');
        if colon && joint_colon {
            tokens.pop();
            tokens.push(Token::Colons);
            joint_colon = false;
            continue;
        }
        joint_colon = matches!(&tree, TokenTree::Punct(mark)
            if mark.as_char() == ':' && mark.spacing() == proc_macro2::Spacing::Joint);
        tokens.push(match tree {
            TokenTree::Ident(word) => Token::Word(word.to_string()),
            TokenTree::Punct(mark) => Token::Mark(mark.as_char()),
            TokenTree::Literal(_) => Token::Literal,
            TokenTree::Group(group) => Token::Group(group.delimiter(), self::tokens(group.stream())),
        });
    }
    tokens
}

/// Notes what stands in the code of a module; what is written inside it as `mod name { … }` is a module of its own.
fn collect(modules: &mut Modules, file: usize, path: Vec<String>, code: &[Token]) {
    let mut module = Module { file, ..Module::default() };
    let mut inner = Vec::new();
    scan(&mut module, &mut inner, code);
    for (name, code) in inner {
        let path: Vec<String> = path.iter().cloned().chain([name]).collect();
        collect(modules, file, path, &code);
    }
    modules.insert(path, module);
}

fn scan(module: &mut Module, inner: &mut Vec<(String, Vec<Token>)>, code: &[Token]) {
    let mut at = 0;
    let mut is_public = false;
    while at < code.len() {
        let was_public = std::mem::take(&mut is_public);
        match (&code[at], code.get(at + 1), code.get(at + 2)) {
            (Token::Word(word), Some(Token::Word(name)), Some(Token::Group(Delimiter::Brace, code)))
                if word == "mod" =>
            {
                inner.push((name.clone(), code.clone()));
                at += 3;
            }
            (Token::Word(word), ..) if word == "use" => {
                let length = code[at..].iter().position(|token| matches!(token, Token::Mark(';')));
                let end = length.map_or(code.len(), |length| at + length);
                import(module, was_public, &[], &code[at + 1..end]);
                at = end;
            }
            // Who may see an item is no use of anything.
            (Token::Word(word), seen_by, _) if word == "pub" => {
                let is_narrowed =
                    matches!(seen_by, Some(Token::Group(Delimiter::Parenthesis, of)) if is_visibility(of));
                at += 1 + usize::from(is_narrowed);
                is_public = true;
            }
            (Token::Word(word), Some(Token::Word(name)), _) if ITEMS.contains(&word.as_str()) => {
                module.items.insert(name.clone());
                at += 2;
            }
            (Token::Word(word), ..) => {
                let mut written = vec![word.clone()];
                module.words.insert(word.clone());
                at += 1;
                while let (Some(Token::Colons), Some(Token::Word(word))) = (code.get(at), code.get(at + 1)) {
                    written.push(word.clone());
                    at += 2;
                }
                if written.len() > 1 {
                    module.paths.push(written);
                }
            }
            (Token::Group(_, code), ..) => {
                scan(module, inner, code);
                at += 1;
            }
            _ => at += 1,
        }
    }
}

/// The words before an item's name.
const ITEMS: [&str; 8] = ["struct", "enum", "union", "trait", "fn", "const", "static", "type"];

fn is_visibility(tokens: &[Token]) -> bool {
    let Some(Token::Word(first)) = tokens.first() else { return false };
    first == "in" || (tokens.len() == 1 && ["crate", "self", "super"].contains(&first.as_str()))
}

/// Notes what a tree of `use` brings in.
fn import(module: &mut Module, is_public: bool, before: &[String], tree: &[Token]) {
    let mut path = before.to_vec();
    let mut name = None;
    for token in tree {
        match token {
            // The name follows.
            Token::Word(word) if word == "as" => name = Some(String::new()),
            Token::Word(word) if name.is_some() => name = Some(word.clone()),
            // `{self, …}` is the path so far.
            Token::Word(word) if word == "self" && !path.is_empty() => {}
            Token::Word(word) => path.push(word.clone()),
            Token::Mark('*') => {
                module.globs.push(path);
                return;
            }
            Token::Group(Delimiter::Brace, branches) => {
                for branch in branches.split(|token| matches!(token, Token::Mark(','))) {
                    if !branch.is_empty() {
                        import(module, is_public, &path, branch);
                    }
                }
                return;
            }
            _ => {}
        }
    }
    let Some(name) = name.or_else(|| path.last().cloned()) else { return };
    module.imports.insert(name.clone(), path.clone());
    if is_public {
        module.offered.push((name, path));
    } else {
        module.paths.push(path);
    }
}

/// The file that defines what a path names, as it is written in a module; `None` for another crate's and for a module.
fn file_of(modules: &Modules, from: &[String], written: &[String], depth: usize) -> Option<usize> {
    // Two modules that bring in all of each other would go on for ever.
    if depth > 16 {
        return None;
    }
    let (mut module, mut rest) = (from.to_vec(), written);
    match rest.first()?.as_str() {
        "crate" | env!("CARGO_PKG_NAME") => {
            module.clear();
            rest = &rest[1..];
        }
        "self" => rest = &rest[1..],
        "super" => {}
        name => {
            let known = &modules[from];
            let is_inner = modules.contains_key(&[from, &[name.to_owned()]].concat());
            if !is_inner && !known.imports.contains_key(name) && !known.items.contains(name) {
                // Brought in by `*`, or another crate's.
                return through_globs(modules, from, written, depth);
            }
        }
    }
    while rest.first().is_some_and(|word| word == "super") {
        module.pop()?;
        rest = &rest[1..];
    }
    while let Some(name) = rest.first() {
        let known = modules.get(&module)?;
        let inner = [module.as_slice(), std::slice::from_ref(name)].concat();
        let imported = known.imports.get(name).filter(|path| path.as_slice() != written || module != from);
        let is_inner = modules.contains_key(&inner);
        // A name may be a module and, at the end of a path, an item as well.
        if let Some(path) = imported.filter(|_| !is_inner || rest.len() == 1) {
            let path: Vec<String> = path.iter().chain(&rest[1..]).cloned().collect();
            return file_of(modules, &module, &path, depth + 1);
        }
        if !is_inner {
            if known.items.contains(name) || known.globs.is_empty() {
                return Some(known.file);
            }
            return through_globs(modules, &module, rest, depth).or(Some(known.file));
        }
        module = inner;
        rest = &rest[1..];
    }
    None
}

/// The file that defines what a module brings in by `use path::*`.
fn through_globs(modules: &Modules, module: &[String], written: &[String], depth: usize) -> Option<usize> {
    modules[module].globs.iter().find_map(|glob| {
        let path: Vec<String> = glob.iter().chain(written).cloned().collect();
        let source = modules_path(modules, module, glob)?;
        let name = written.first()?;
        let inner = [source.as_slice(), std::slice::from_ref(name)].concat();
        let known = modules.get(&source)?;
        let has = known.items.contains(name) || known.imports.contains_key(name) || modules.contains_key(&inner);
        has.then(|| file_of(modules, module, &path, depth + 1)).flatten()
    })
}

/// The module that a path of `use path::*` names; `None` for another crate's and for an enum.
fn modules_path(modules: &Modules, from: &[String], written: &[String]) -> Option<Vec<String>> {
    let mut module = from.to_vec();
    for (at, word) in written.iter().enumerate() {
        match word.as_str() {
            "crate" => module.clear(),
            "self" => {}
            "super" => {
                module.pop()?;
            }
            name => {
                let inner = [module.as_slice(), &[name.to_owned()]].concat();
                if !modules.contains_key(&inner) {
                    let path = modules.get(&module)?.imports.get(name)?;
                    return (at == 0 && path.len() > 1).then(|| modules_path(modules, from, path)).flatten();
                }
                module = inner;
            }
        }
    }
    Some(module)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn imports(files: &[(&str, &str)]) -> Imports {
        let files: Vec<(String, String)> =
            files.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
        Imports::read(&files).expect("Rust")
    }

    fn arrows(files: &[(&str, &str)]) -> Vec<String> {
        imports(files).arrows().map(|(from, to, path)| format!("{from} -> {to} by {path}")).collect()
    }

    #[test]
    fn a_circle_is_found_with_a_path_for_each_step() {
        let files = [
            ("lib.rs", "mod a; mod b; mod c;"),
            ("a.rs", "use crate::b::B; pub struct A(B);"),
            ("b.rs", "pub struct B(Option<Box<crate::c::C>>);"),
            ("c/mod.rs", "use super::{a::A as First, b}; pub struct C(First, b::B);"),
        ];
        let first =
            "  a.rs -> b.rs by crate::b::B\n  b.rs -> c/mod.rs by crate::c::C\n  c/mod.rs -> a.rs by super::a::A";
        assert_eq!(imports(&files).circles(), [first]);
        assert_eq!(imports(&files[..3]).circles(), Vec::<String>::new());
    }

    #[test]
    fn an_arrow_up_is_found() {
        let files = [
            ("lib.rs", "pub mod high; pub mod low;"),
            ("high.rs", "fn f() { let x: &str = \"crate::low::no\"; /* crate::low::no */ }"),
            ("low.rs", "use crate::high; pub struct Low; fn g() { high::f(); }"),
        ];
        let order = ["high".to_owned(), "low".to_owned()];
        assert_eq!(imports(&files).upward(&order), Vec::<String>::new());
        let wrong = [files[0], ("high.rs", "fn f() -> crate::low::Low { todo() }"), files[2]];
        assert_eq!(imports(&wrong).upward(&order), ["high.rs uses low.rs by crate::low::Low"]);
        assert_eq!(imports(&files).upward(&order[1..]), ["low.rs uses high.rs by high::f"]);
    }

    #[test]
    fn a_re_export_leads_to_the_file_that_defines_the_item() {
        let files = [
            ("lib.rs", "pub mod a;"),
            ("a/mod.rs", "mod b; mod c; pub use b::{B, make}; pub(crate) use c::*;"),
            ("a/b.rs", "use super::C; pub struct B(C); pub fn make() {}"),
            ("a/c.rs", "pub struct C;"),
        ];
        // A module that only lists what its files offer uses none of it.
        assert_eq!(arrows(&files), ["a/b.rs -> a/c.rs by super::C"]);
        // It does where its own code names it.
        let mut with_code = files;
        with_code[1].1 = "mod b; mod c; pub use b::{B, make}; pub(crate) use c::*; fn f() -> B { todo() }";
        assert_eq!(arrows(&with_code), ["a/mod.rs -> a/b.rs by b::B", "a/b.rs -> a/c.rs by super::C"]);
    }

    #[test]
    fn who_may_see_an_item_is_no_use_and_a_macro_is_looked_into() {
        let files = [
            ("lib.rs", "pub mod a; pub mod b;"),
            (
                "a.rs",
                "pub(in crate::b) fn f() {} pub(crate) struct T(pub u8); mod tests { use super::*; fn g() { f() } }",
            ),
            ("b/mod.rs", "fn g() { println!(\"{}\", crate::a::f()); }"),
        ];
        assert_eq!(arrows(&files), ["b/mod.rs -> a.rs by crate::a::f"]);
        assert!(Imports::read(&[("a.rs".into(), "fn f( {".into())]).is_err_and(|error| error.starts_with("a.rs")));
    }
}
