//! What is said of a value that is told while the job is under way: how it may be told, what is asked of a group, and what was told, said
//! back whole.
//!
//! Knows the words that a strip-down has for the same questions, and uses them.

use super::file::Language;
use super::grammar::Grammar;
use super::meaning::Meaning;
use super::render::Draft;
use super::strip_phrases::{StripExpect, TOLD, Told};
use super::templates::Templates;
use super::values::Teller;
use super::{Digits, Manner, Sentence, Tone};
use crate::job::{BookAsks, BookAwaits, Telling};
use crate::procedure::{FastenerIx, ToldOrder};
use crate::values::Value;
use minijinja::context;

impl Language {
    /// Adds to what may be said in a job what the book says, where that is to be told.
    pub(super) fn book_told(&self, grammar: &mut Grammar, awaits: BookAwaits) {
        let (value, page, order) = match awaits {
            BookAwaits::Value => (true, false, false),
            BookAwaits::Page => (false, true, false),
            BookAwaits::Order => (false, false, true),
        };
        let expect = StripExpect { turned: true, value, page, order, ..StripExpect::default() };
        let awaited = |key: &str| expect.allows(key) && key != "what_came_off";
        for (key, told) in TOLD.iter().filter(|(key, _)| awaited(key)) {
            let Told::Plain(command) = told else { continue };
            for phrase in self.strip_patterns(key).iter().filter(|phrase| phrase.contains(' ')) {
                grammar.add(phrase.clone(), Some(Meaning::Strip(command())));
            }
            for form in self.strip_table().get(*key).into_iter().flat_map(|(_, denied)| denied) {
                grammar.add(form.clone(), None);
            }
        }
        if page {
            self.pages_told(grammar);
        }
        self.strip_pieces(grammar, expect);
        grammar.strip = Some((self.clone(), expect));
    }

    /// That the book of a closed job is written: in its place, or `beside` the one that its user has changed.
    pub fn book_written(&self, file: &str, beside: bool) -> Sentence {
        let key = if beside { "book_beside" } else { "book_written" };
        self.told(key, Tone::Plain, |_| context! { what => file })
    }

    /// That it could not be, and why.
    pub fn book_not_written(&self, why: &str) -> Sentence {
        self.told("book_not_kept", Tone::Refusal, |_| context! { what => why })
    }
}

impl Teller<'_> {
    /// A whole group: one by its name, several by theirs.
    pub(super) fn group_named(&self, group: FastenerIx) -> &str {
        let Some(fastener) = self.book.fasteners.get(group.0) else { return "" };
        if fastener.places.len() == 1 { &fastener.name } else { &fastener.plural }
    }

    /// What the book says of a group is to be told.
    pub(super) fn untold(&self, group: FastenerIx) -> Draft {
        let draft = Draft::new("book_untold", context! { name => self.group_named(group) });
        Draft { tone: Tone::Question, ..draft }
    }

    /// What is asked of what was told.
    pub(super) fn asks_of_book(&self, telling: &Telling) -> Draft {
        let name = self.group_named(telling.group);
        match telling.asks {
            BookAsks::Page => Draft::bare("strip_ask_page"),
            BookAsks::Order => Draft::new("strip_ask_order", context! { name }),
            BookAsks::Runs => Draft::bare("strip_ask_runs"),
            BookAsks::Right => match telling.value.read() {
                Some(stages) => {
                    let digits = Manner { digits: Digits::All, ..*self.manner };
                    let teller = Teller { manner: &digits, ..*self };
                    let things = teller.published(&Value::Stages(stages), digits.unit);
                    let page = telling.value.source().map(|page| teller.page_of(&page));
                    let more = page.into_iter().chain(self.order_told(telling)).collect::<Vec<_>>().join(", ");
                    Draft::new("strip_offer_heard", context! { name, other => more, things })
                }
                None => Draft::new("book_right_none", context! { name }),
            },
        }
    }

    /// The order that was told, and how passes run.
    fn order_told(&self, telling: &Telling) -> impl Iterator<Item = String> {
        let runs = telling.together.map(|together| if together { "runs_together" } else { "runs_one_at_a_time" });
        let words = [telling.order.map(order_word), runs];
        let language = self.language;
        words.into_iter().flatten().map(|key| language.word(key).to_owned())
    }
}

/// The key of the words for an order.
pub(super) fn order_word(order: ToldOrder) -> &'static str {
    match order {
        ToldOrder::Crosswise => "order_crosswise",
        ToldOrder::InTurn => "order_in_turn",
        ToldOrder::FromTheMiddle => "order_from_the_middle",
        ToldOrder::AsNumbered => "order_as_numbered",
        ToldOrder::Unordered => "order_none",
    }
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("book_untold", &["name"]),
    ("book_right_none", &["name"]),
    ("book_written", &["what"]),
    ("book_beside", &["what"]),
    ("strip_ask_order", &["name"]),
];
