//! The evaluation as a function of its weights, and logistic regression of results on it.
//!
//! Expected points are 1 / (1 + 10^(−value/slope)); the weights minimise the mean of −log likelihood, plus a penalty for
//! going away from where they began (a Gaussian prior around the weights set by hand). Minimised with Adam (Kingma and
//! Ba, "Adam: A Method for Stochastic Optimization", 2015).

use variorum_resident::{
    Random,
    eval::{DANGER_SQUARE, DANGER_STRAIGHT},
};

use crate::positions::Sample;

const LN_10: f64 = std::f64::consts::LN_10;
/// Positions in one step.
const BATCH: usize = 8192;
/// Greatest danger that counts, as in the evaluation.
const MOST_DANGER: f64 = 1000.0;

/// Weights as the fit sees them.
#[derive(Clone)]
pub struct Weights {
    /// Middle game and endgame of each term.
    pub linear: Vec<[f64; 2]>,
    /// Weights of danger.
    pub danger: Vec<f64>,
}

impl Weights {
    /// The weights in use.
    #[must_use]
    pub fn in_use() -> Weights {
        let (linear, danger) = variorum_resident::eval::weights();
        Weights {
            linear: linear.into_iter().map(|(middle, end)| [f64::from(middle), f64::from(end)]).collect(),
            danger: danger.into_iter().map(f64::from).collect(),
        }
    }

    fn zeros(&self) -> Weights {
        Weights { linear: vec![[0.0; 2]; self.linear.len()], danger: vec![0.0; self.danger.len()] }
    }

    fn flat(&mut self) -> impl Iterator<Item = &mut f64> {
        self.linear.iter_mut().flatten().chain(&mut self.danger)
    }

    fn raw_dangers(&self, sample: &Sample) -> [f64; 2] {
        [0, 1].map(|side: usize| {
            sample.trace.danger[side].iter().map(|&(at, count)| self.danger[at as usize] * f64::from(count)).sum()
        })
    }

    /// The evaluation for White, in centipawns.
    #[must_use]
    pub fn value(&self, sample: &Sample) -> f64 {
        let (middle, end) = shares(sample);
        let trace = &sample.trace;
        let linear: f64 = trace
            .linear
            .iter()
            .map(|&(at, count)| {
                let [m, e] = self.linear[at as usize];
                f64::from(count) * (m * middle + e * end)
            })
            .sum();
        let worth = self.raw_dangers(sample).map(|danger| {
            let danger = danger.clamp(0.0, MOST_DANGER);
            danger * danger / f64::from(DANGER_SQUARE) * middle + danger / f64::from(DANGER_STRAIGHT) * end
        });
        linear + worth[0] - worth[1] + f64::from(trace.rest)
    }

    fn add_gradient(&self, sample: &Sample, factor: f64, gradient: &mut Weights) {
        let (middle, end) = shares(sample);
        for &(at, count) in &sample.trace.linear {
            let slot = &mut gradient.linear[at as usize];
            slot[0] += factor * f64::from(count) * middle;
            slot[1] += factor * f64::from(count) * end;
        }
        for (side, danger) in self.raw_dangers(sample).into_iter().enumerate() {
            if danger <= 0.0 || danger >= MOST_DANGER {
                continue;
            }
            let sign = if side == 0 { 1.0 } else { -1.0 };
            let slope = 2.0 * danger / f64::from(DANGER_SQUARE) * middle + end / f64::from(DANGER_STRAIGHT);
            for &(at, count) in &sample.trace.danger[side] {
                gradient.danger[at as usize] += factor * sign * slope * f64::from(count);
            }
        }
    }
}

/// How much middle game and endgame count in a position.
fn shares(sample: &Sample) -> (f64, f64) {
    let middle = f64::from(sample.trace.phase) / 24.0;
    (middle, (1.0 - middle) * f64::from(sample.trace.scale) / 64.0)
}

/// Expected points of White at a value.
#[must_use]
pub fn expected(value: f64, slope: f64) -> f64 {
    1.0 / (1.0 + (-value * LN_10 / slope).exp())
}

/// Mean of −log likelihood.
#[must_use]
pub fn loss(weights: &Weights, samples: &[Sample], slope: f64) -> f64 {
    let total: f64 = samples
        .iter()
        .map(|sample| {
            let p = expected(weights.value(sample), slope).clamp(1e-9, 1.0 - 1e-9);
            -(sample.result * p.ln() + (1.0 - sample.result) * (1.0 - p).ln())
        })
        .sum();
    total / samples.len() as f64
}

/// The slope at which the weights explain the results best, by golden section.
#[must_use]
pub fn best_slope(weights: &Weights, samples: &[Sample]) -> f64 {
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (100.0, 1200.0);
    while high - low > 0.5 {
        let (a, b) = (high - ratio * (high - low), low + ratio * (high - low));
        if loss(weights, samples, a) < loss(weights, samples, b) {
            high = b;
        } else {
            low = a;
        }
    }
    f64::midpoint(low, high)
}

/// Fits the weights in so many passes over the samples; `stiffness` is the weight of the prior.
#[must_use]
pub fn fit(samples: &[Sample], slope: f64, passes: usize, stiffness: f64) -> Weights {
    let mut start = Weights::in_use();
    let mut weights = start.clone();
    let (mut mean, mut square) = (weights.zeros(), weights.zeros());
    let mut order: Vec<usize> = (0..samples.len()).collect();
    let mut random = Random::new(1);
    let mut step = 0;
    for pass in 0..passes {
        for index in (1..order.len()).rev() {
            order.swap(index, random.below(index as u64 + 1) as usize);
        }
        // Smaller steps towards the end.
        let rate = 1.5 * 0.5 * (1.0 + (std::f64::consts::PI * pass as f64 / passes as f64).cos()) + 0.01;
        for batch in order.chunks(BATCH) {
            step += 1;
            let mut gradient = weights.zeros();
            for &index in batch {
                let sample = &samples[index];
                let p = expected(weights.value(sample), slope);
                weights.add_gradient(sample, (p - sample.result) * LN_10 / slope / batch.len() as f64, &mut gradient);
            }
            let decay = |beta: f64| 1.0 - beta.powi(step);
            let all = weights.flat().zip(start.flat()).zip(gradient.flat()).zip(mean.flat()).zip(square.flat());
            for ((((weight, &mut origin), &mut slope), mean), square) in all {
                let slope = slope + stiffness * (*weight - origin);
                *mean += 0.1 * (slope - *mean);
                *square += 0.001 * (slope * slope - *square);
                *weight -= rate * (*mean / decay(0.9)) / ((*square / decay(0.999)).sqrt() + 1e-9);
            }
        }
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use shakmaty::{CastlingMode, Chess, fen::Fen};
    use variorum_resident::{Board, eval::trace};

    fn samples() -> Vec<Sample> {
        [
            "r1bqkb1r/pp3ppp/2n1pn2/3p4/2PP4/2N2N2/PP3PPP/R1BQKB1R w KQkq - 0 7",
            "2rq1rk1/pb2bppp/1pn1pn2/8/3P4/P1NQ1N2/1PB2PPP/R1B1R1K1 b - - 3 13",
            "8/5pk1/4p1p1/3pP3/3P1P2/4K3/8/8 w - - 0 40",
        ]
        .into_iter()
        .enumerate()
        .map(|(game, fen)| {
            let fen: Fen = fen.parse().expect("a FEN");
            let position: Chess = fen.into_position(CastlingMode::Standard).expect("a legal position");
            Sample { trace: trace(&Board::from(&position)), result: game as f64 / 2.0, game }
        })
        .collect()
    }

    #[test]
    fn the_model_is_the_evaluation() {
        let weights = Weights::in_use();
        for sample in samples() {
            // The evaluation rounds three times.
            assert!((weights.value(&sample) - f64::from(sample.trace.value)).abs() < 4.0);
        }
    }

    #[test]
    fn the_gradient_is_that_of_the_value() {
        let weights = Weights::in_use();
        for sample in samples() {
            let mut gradient = weights.zeros();
            weights.add_gradient(&sample, 1.0, &mut gradient);
            for (at, slope) in gradient.linear.iter().enumerate() {
                for (part, slope) in slope.iter().enumerate() {
                    let mut moved = weights.clone();
                    moved.linear[at][part] += 1.0;
                    assert!((moved.value(&sample) - weights.value(&sample) - slope).abs() < 1e-6);
                }
            }
            for (at, slope) in gradient.danger.iter().enumerate() {
                let mut moved = weights.clone();
                moved.danger[at] += 1e-4;
                assert!(((moved.value(&sample) - weights.value(&sample)) / 1e-4 - slope).abs() < 0.05);
            }
        }
    }

    #[test]
    fn the_slope_is_found_again() {
        let weights = Weights::in_use();
        let mut all = Vec::new();
        for sample in samples() {
            let points = expected(weights.value(&sample), 300.0);
            all.push(Sample { result: points, ..sample });
        }
        assert!((best_slope(&weights, &all) - 300.0).abs() < 3.0);
    }
}
