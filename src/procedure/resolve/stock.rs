//! Parts that there are in several sizes, of which one is chosen on the day.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::model::StockIx;
use crate::procedure::stock::Stock;
use crate::procedure::written::{self, Text};
use crate::quantity::{Quantity, Unit};

impl Resolver<'_, '_> {
    /// The sizes at hand, each once, the smallest first.
    pub(super) fn stocks(&mut self, stocks: &[written::Stock]) -> Vec<Stock> {
        stocks.iter().map(|stock| self.stock(stock)).collect()
    }

    fn stock(&mut self, stock: &written::Stock) -> Stock {
        let mut sizes: Vec<Quantity> = Vec::with_capacity(stock.sizes.len());
        for text in &stock.sizes.value {
            let Some(size) = self.read::<Quantity>(text) else { continue };
            if sizes.contains(&size) {
                let what = format!("\"{}\" is written twice", text.value);
                self.report(Code::PlaceTwice, text.span.clone(), what, "Write each size once");
            } else if let Some(first) = sizes.first().filter(|first| first.unit() != size.unit()) {
                let what = format!("\"{}\" is not in {}, as the first of the sizes is", text.value, first.unit());
                self.report(Code::LimitsMixed, text.span.clone(), what, "Write all of them in one unit");
            } else {
                sizes.push(size);
            }
        }
        self.stocked_in.push(sizes.first().map(|size| size.unit()));
        sizes.sort_by_key(|size| size.amount());
        Stock {
            id: stock.id.value.clone(),
            name: stock.name.value.clone(),
            sizes,
            source: stock.source.as_ref().map(|page| page.value.clone()),
        }
    }

    /// The sizes that a measurement chooses from, which must be of its kind.
    pub(super) fn among(&mut self, id: &Text, unit: Unit) -> Option<StockIx> {
        let ix = self.find(What::Stock, id)?;
        // What could not be read was reported.
        let stocked = self.stocked_in.get(ix).copied().flatten()?;
        if stocked.kind() != unit.kind() {
            let what = format!("\"{}\" has sizes in {stocked}, and the limits are in {unit}", id.value);
            let right = format!("Write the limits in {stocked}, or name another stock");
            self.report(Code::MeasureKind, id.span.clone(), what, right);
            self.gap(What::Stock);
            return None;
        }
        Some(StockIx(ix))
    }
}
