//! What the job cost in minutes, parts and money, item by item, against what was agreed to.
//!
//! Minutes of readings are those that each takes from the one before it, of repairs those of the circuit file; so is the
//! price of parts. Nobody's clock is in it: how long the job was open is told beside it.

use quantity::{Unit, format};
use report::Block;

use super::account::Account;
use super::blocks::{count, paragraph, table};
use crate::words;

/// An item.
struct Item {
    what: String,
    minutes: f64,
    parts: f64,
}

fn money(amount: f64) -> String {
    format(amount, Unit::Currency)
}

fn items(account: &Account<'_>) -> Vec<Item> {
    let spent = &account.spent;
    let mut items = Vec::new();
    let mut from = 0;
    let mut readings = |items: &mut Vec<Item>, to: usize| {
        let minutes = &spent.reading_minutes[from.min(to)..to];
        if !minutes.is_empty() {
            items.push(Item {
                what: format!("{} taken", count(minutes.len(), "reading", "readings")),
                minutes: minutes.iter().sum(),
                parts: 0.0,
            });
        }
        from = to;
    };
    let n = spent.reading_minutes.len();
    for work in &spent.repairs {
        readings(&mut items, work.after.min(n));
        let repairs = account.of.faults.iter().map(|fault| &fault.repair);
        let words = repairs
            .into_iter()
            .find(|repair| repair.key == work.key)
            .map_or("repair", |repair| &repair.words);
        items.push(Item {
            what: words::capital(words),
            minutes: work.minutes,
            parts: work.parts_price,
        });
        items.push(Item {
            what: "Seeing that the complaint is gone".into(),
            minutes: account.costs.proof_minutes,
            parts: 0.0,
        });
    }
    readings(&mut items, n);
    items
}

/// The tally, and how it stands to what was agreed.
pub(super) fn blocks(account: &Account<'_>) -> Vec<Block> {
    let items = items(account);
    let minutes = |minutes: f64| format!("{minutes:.1}");
    let row = |item: &Item| {
        let work = account.costs.of_minutes(item.minutes);
        let parts = if item.parts > 0.0 {
            money(item.parts)
        } else {
            "–".into()
        };
        vec![
            item.what.clone(),
            minutes(item.minutes),
            parts,
            money(work + item.parts),
        ]
    };
    let mut rows: Vec<Vec<String>> = items.iter().map(row).collect();
    let total = account.costs.of_spent(&account.spent);
    if !rows.is_empty() {
        let (all, parts) = items
            .iter()
            .fold((0.0, 0.0), |sum, item| (sum.0 + item.minutes, sum.1 + item.parts));
        rows.push(vec!["In all".into(), minutes(all), money(parts), money(total)]);
    }
    let columns = [("What", 4.0), ("Minutes", 1.0), ("Parts", 1.0), ("Comes to", 1.0)];
    let mut blocks: Vec<Block> = table(&columns, rows).into_iter().collect();
    let rate = money(account.costs.rate_per_hour);
    blocks.push(paragraph(format!(
        "Reckoned in the shop\u{2019}s money at {rate} an hour from the minutes and prices of the circuit file; this is no \
         invoice. {}",
        against(account, total)
    )));
    let (first, last) = account.span();
    let open = last.saturating_sub(first) as f64 / 60_000.0;
    if open >= 1.0 {
        blocks.push(paragraph(format!(
            "From the first entry to the last it took {} by the clock, waiting included.",
            words::minutes(open)
        )));
    }
    blocks
}

fn against(account: &Account<'_>, total: f64) -> String {
    match account.state.authorised {
        None => "No limit was agreed.".into(),
        Some(limit) if total > limit => format!(
            "Agreed were at most {}: this is {} above that.",
            money(limit),
            money(total - limit)
        ),
        Some(limit) => format!("Agreed were at most {}: this is within it.", money(limit)),
    }
}
