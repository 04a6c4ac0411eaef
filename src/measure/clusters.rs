//! The best division of numbers on a line into k clusters, exactly.
//!
//! Promises: the division with the least sum of squared distances from the cluster means, found by dynamic
//! programming (Fisher 1958, doi 10.1080/01621459.1958.10501479). Must not choose k.

use super::number;

/// Numbers divided into clusters, in rising order.
#[derive(Debug, Clone, PartialEq)]
pub struct Clusters {
    /// The members of each cluster, rising; no cluster is empty.
    pub members: Vec<Vec<f64>>,
    /// Goodness of variance fit: 1 − squares within clusters ÷ squares about the whole mean; 1 where nothing varies.
    pub fit: f64,
}

impl Clusters {
    /// Difference of greatest and least member of the widest cluster.
    #[must_use]
    pub fn widest(&self) -> f64 {
        self.members.iter().filter_map(|c| Some(c.last()? - c.first()?)).fold(0.0, f64::max)
    }

    /// Least distance between the nearest members of two neighbouring clusters; `None` for a single cluster.
    #[must_use]
    pub fn closest(&self) -> Option<f64> {
        let gaps = self.members.windows(2).filter_map(|pair| Some(pair.get(1)?.first()? - pair.first()?.last()?));
        gaps.reduce(f64::min)
    }
}

/// Divides `values` into exactly `k` clusters. `None` if k is 0, there are fewer values than clusters, or one is not finite.
///
/// Takes k·n² steps for n values.
#[must_use]
pub fn divide(values: &[f64], k: usize) -> Option<Clusters> {
    let n = values.len();
    if k == 0 || k > n || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let costs = Costs::new(&sorted);
    // best[j] is the least cost of the first j values in the present number of clusters.
    let mut best: Vec<f64> = (0..=n).map(|j| if j == 0 { 0.0 } else { costs.of(0, j) }).collect();
    let mut starts: Vec<Vec<usize>> = vec![vec![0; n + 1]];
    for clusters in 2..=k {
        let mut next = vec![f64::INFINITY; n + 1];
        let mut start = vec![0; n + 1];
        for end in clusters..=n {
            for (first, before) in best.iter().enumerate().take(end).skip(clusters - 1) {
                let cost = before + costs.of(first, end);
                if cost < next[end] {
                    next[end] = cost;
                    start[end] = first;
                }
            }
        }
        best = next;
        starts.push(start);
    }
    let mut members = Vec::with_capacity(k);
    let mut end = n;
    for start in starts.iter().rev() {
        let first = start[end];
        members.push(sorted[first..end].to_vec());
        end = first;
    }
    members.reverse();
    let about_mean = costs.of(0, n);
    let within: f64 = members.iter().map(|c| squares(c)).sum();
    let fit = if about_mean > 0.0 { 1.0 - within / about_mean } else { 1.0 };
    Some(Clusters { members, fit })
}

fn squares(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / number::count(values.len());
    values.iter().map(|v| (v - mean).powi(2)).sum()
}

/// Sums from the left, so that the squares within any run take one step.
struct Costs {
    sums: Vec<f64>,
    squares: Vec<f64>,
}

impl Costs {
    fn new(sorted: &[f64]) -> Self {
        // Shifted to the middle: squares of large numbers would lose the small differences.
        let origin = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
        let (mut sums, mut squares) = (vec![0.0], vec![0.0]);
        let (mut sum, mut square) = (0.0, 0.0);
        for v in sorted {
            sum += v - origin;
            square += (v - origin).powi(2);
            sums.push(sum);
            squares.push(square);
        }
        Self { sums, squares }
    }

    /// Squared distances from the mean of the values `first..end`.
    fn of(&self, first: usize, end: usize) -> f64 {
        let sum = self.sums[end] - self.sums[first];
        (self.squares[end] - self.squares[first] - sum * sum / number::count(end - first)).max(0.0)
    }
}
