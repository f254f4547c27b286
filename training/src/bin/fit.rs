//! Fits the weights of the evaluation to the results of games: `fit GAMES… WEIGHTS.rs [PASSES [STIFFNESS]]` reads what
//! `games` wrote and writes `crates/resident/src/eval/weights.rs`. A tenth of the games is kept back to see what the fit
//! is worth.

#![expect(clippy::print_stdout, reason = "a program that prints")]

use std::fmt::Write;

use variorum_resident::eval::terms::{DANGERS, TERMS};
use variorum_training::{
    model::{Weights, best_slope, expected, fit, loss},
    positions::{Sample, sample},
};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(split) = arguments.iter().position(|name| name.ends_with(".rs")) else {
        eprintln!("usage: fit GAMES… WEIGHTS.rs [PASSES [STIFFNESS]]");
        std::process::exit(2);
    };
    let passes = arguments.get(split + 1).map_or(60, |text| text.parse().expect("a number of passes"));
    let stiffness = arguments.get(split + 2).map_or(1e-7, |text| text.parse().expect("a stiffness"));
    let texts: Vec<String> =
        arguments[..split].iter().map(|name| std::fs::read_to_string(name).expect("games")).collect();
    let games: Vec<&str> = texts.iter().flat_map(|text| text.lines()).filter(|line| !line.is_empty()).collect();
    let all = sample(&games, 1);
    let (kept_back, samples): (Vec<Sample>, Vec<Sample>) = all.into_iter().partition(|sample| sample.game % 10 == 0);
    println!("{} games, {} positions to fit, {} kept back", games.len(), samples.len(), kept_back.len());
    let before = Weights::in_use();
    let slope = best_slope(&before, &samples);
    println!(
        "slope {slope:.0}; loss {:.5}, kept back {:.5}",
        loss(&before, &samples, slope),
        loss(&before, &kept_back, slope)
    );
    let after = fit(&samples, slope, passes, stiffness);
    println!("fitted: loss {:.5}, kept back {:.5}", loss(&after, &samples, slope), loss(&after, &kept_back, slope));
    calibration(&after, &kept_back, slope);
    std::fs::write(&arguments[split], written(&after)).expect("the weights can be written");
}

/// Prints expected and real points of the games kept back, by tenths of expectation.
fn calibration(weights: &Weights, samples: &[Sample], slope: f64) {
    let mut rows = [(0usize, 0.0, 0.0); 10];
    for sample in samples {
        let p = expected(weights.value(sample), slope);
        let row = &mut rows[((p * 10.0) as usize).min(9)];
        *row = (row.0 + 1, row.1 + p, row.2 + sample.result);
    }
    for (count, expected, points) in rows {
        let n = count.max(1) as f64;
        println!("{count:>8} positions: expected {:.3}, scored {:.3}", expected / n, points / n);
    }
}

fn whole(weight: f64) -> i32 {
    weight.round() as i32
}

/// The table as source text.
fn written(weights: &Weights) -> String {
    let mut text = String::from(
        "//! The weights of the hand evaluation, in centipawns: middle game and endgame. Written by the fit (see `training`); the\n\
         //! names and meanings of the runs are in `terms`.\n\n\
         use super::{\n    tapered::{Tapered, t},\n    terms::{COUNT, DANGER_COUNT},\n};\n\n\
         /// See `terms`.\n#[rustfmt::skip]\npub static WEIGHTS: [Tapered; COUNT] = [\n",
    );
    let mut linear = weights.linear.iter();
    for (name, len) in TERMS {
        text += &format!("    // {name}\n");
        let run: Vec<&[f64; 2]> = linear.by_ref().take(*len).collect();
        for row in run.chunks(8) {
            let pairs: Vec<String> = row.iter().map(|[m, e]| format!("t({}, {}),", whole(*m), whole(*e))).collect();
            text += &format!("    {}\n", pairs.join(" "));
        }
    }
    text += "];\n\n/// Weights of danger, see `terms`.\n#[rustfmt::skip]\npub static DANGER: [i32; DANGER_COUNT] = [\n";
    let mut danger = weights.danger.iter();
    for (name, len) in DANGERS {
        let row: Vec<String> = danger.by_ref().take(*len).map(|weight| format!("{},", whole(*weight))).collect();
        writeln!(text, "    // {name}\n    {}", row.join(" ")).expect("a string can be written to");
    }
    text + "];\n"
}
