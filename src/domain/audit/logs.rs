//! Sums and choices of logarithms, in nats.

pub(super) fn best(logs: &[f64]) -> f64 {
    logs.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// Returns where the greatest lies; the first of equals.
pub(super) fn best_at<T: PartialOrd>(logs: &[T]) -> usize {
    logs.iter().enumerate().fold(0, |found, (at, log)| if *log > logs[found] { at } else { found })
}

/// Returns ln Σ exp.
pub(super) fn ln_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let best = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if best == f64::NEG_INFINITY {
        return best;
    }
    best + logs.map(|log| (log - best).exp()).sum::<f64>().ln()
}

/// Returns ln of the mean of exp; 0 of nothing.
pub(super) fn ln_mean(logs: &[f64]) -> f64 {
    if logs.is_empty() { 0.0 } else { ln_sum(logs.iter().copied()) - (logs.len() as f64).ln() }
}
