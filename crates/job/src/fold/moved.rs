//! What moved after a decision: facts, readings and other decisions that it rests on, with what they were and what they are.

use std::collections::BTreeMap;

use crate::entry::What;
use crate::questions::Question;
use crate::show;
use crate::state::{Feature, Known, Moved, Units};

use super::Drops;
use super::record::{InScope, Record, Version};

/// What the decisions of one seat rest on.
pub(super) struct Basis<'b, 'e> {
    pub record: &'b Record<'e>,
    /// The scopes of the seat, the one that counts most last.
    pub scopes: &'b [&'b InScope<'e>],
    pub drops: &'b Drops,
    pub numbered: &'b BTreeMap<usize, (Feature, usize)>,
    pub facts: &'b [(String, Known)],
    pub units: Units,
}

/// How a reading stood.
#[derive(Clone, PartialEq)]
enum Stood {
    NotTaken,
    Used(f64),
    Dropped(String),
}

impl Basis<'_, '_> {
    /// What `question` rests on and that is not as it was at `place` in the order.
    pub fn moved_since(&self, question: &Question, place: usize) -> Vec<Moved> {
        if place + 1 >= self.record.order.len() {
            return Vec::new();
        }
        let mut moved: Vec<Moved> =
            self.facts.iter().filter(|(path, _)| question.rests_on(path)).filter_map(|(path, _)| self.moved_fact(path, place)).collect();
        moved.extend(question.features.iter().flat_map(|feature| self.moved_readings(*feature, place)));
        moved.extend(question.decisions.iter().filter_map(|word| self.moved_decision(word, place)));
        moved
    }

    fn moved_fact(&self, path: &str, place: usize) -> Option<Moved> {
        let value = |version: &Version| match version.what {
            What::Fact { value, .. } => Some(value.clone()),
            _ => None,
        };
        let was = self.record.fact(self.scopes, path, place).and_then(value);
        let is = self.record.fact(self.scopes, path, usize::MAX).and_then(value);
        let words = |given: Option<_>| given.map_or_else(|| "not given".to_owned(), |given| show::given(path, &given, self.units));
        (was != is).then(|| Moved { path: path.to_owned(), was: words(was), is: words(is) })
    }

    fn moved_readings(&self, feature: Feature, place: usize) -> Vec<Moved> {
        let mine = self.numbered.iter().filter(|(_, (of, _))| *of == feature);
        let stood: Vec<(usize, Stood, Stood)> =
            mine.map(|(root, (_, number))| (*number, self.stood(*root, place), self.stood(*root, usize::MAX))).collect();
        let word = feature.word();
        let count = |of: fn(&(usize, Stood, Stood)) -> &Stood| stood.iter().filter(|reading| matches!(of(reading), Stood::Used(_))).count();
        let (was, is) = (count(|reading| &reading.1), count(|reading| &reading.2));
        let mut moved = Vec::new();
        if stood.iter().any(|(_, was, _)| *was == Stood::NotTaken) {
            moved.push(Moved { path: word.to_owned(), was: show::counted(was, "reading"), is: show::counted(is, "reading") });
        }
        let changed = stood.into_iter().filter(|(_, was, is)| *was != Stood::NotTaken && was != is);
        moved.extend(changed.map(|(number, was, is)| Moved { path: format!("{word} {number}"), was: self.words(was), is: self.words(is) }));
        moved
    }

    fn stood(&self, root: usize, place: usize) -> Stood {
        let size = self.record.roots.get(root).and_then(|root| root.at(place)).and_then(|version| match version.what {
            What::Reading { size_mm, .. } => Some(*size_mm),
            _ => None,
        });
        let dropped = self.drops.get(&root).and_then(|drops| drops.iter().rev().find(|(from, _)| *from <= place));
        match (size, dropped) {
            (None, _) => Stood::NotTaken,
            (_, Some((_, because))) => Stood::Dropped(because.clone()),
            (Some(size), None) => Stood::Used(size),
        }
    }

    fn words(&self, stood: Stood) -> String {
        match stood {
            Stood::NotTaken => "not taken".into(),
            Stood::Used(size) => show::length(size, self.units),
            Stood::Dropped(because) => format!("dropped: {because}"),
        }
    }

    fn moved_decision(&self, word: &str, place: usize) -> Option<Moved> {
        let was = self.decided(word, place);
        let is = self.decided(word, usize::MAX);
        let words = |choice: Option<String>| choice.unwrap_or_else(|| "not decided".into());
        (was != is).then(|| Moved { path: word.to_owned(), was: words(was), is: words(is) })
    }

    fn decided(&self, word: &str, place: usize) -> Option<String> {
        self.scopes.iter().rev().find_map(|scope| {
            scope.decisions.iter().rev().find_map(|root| match self.record.roots.get(*root)?.at(place)?.what {
                What::Decision { question, choice, .. } if question == word => Some(choice.clone()),
                _ => None,
            })
        })
    }
}
