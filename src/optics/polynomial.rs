//! Where does a polynomial vanish? Used to find where a lens's distortion folds.
//!
//! Roots are found by bisection between the roots of the derivative: certain, and to the last bit.

/// The value of Σ cᵢ·xⁱ; coefficients run from the constant upwards.
pub fn evaluate(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
}

/// The derivative's coefficients.
pub fn derivative(coefficients: &[f64]) -> Vec<f64> {
    coefficients.iter().enumerate().skip(1).map(|(power, coefficient)| coefficient * power as f64).collect()
}

/// The product of two polynomials.
pub fn product(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut result = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            result[i + j] += x * y;
        }
    }
    result
}

/// The sum of two polynomials.
pub fn sum(a: &[f64], b: &[f64]) -> Vec<f64> {
    let coefficient = |polynomial: &[f64], power: usize| polynomial.get(power).copied().unwrap_or(0.0);
    (0..a.len().max(b.len())).map(|power| coefficient(a, power) + coefficient(b, power)).collect()
}

/// The real roots in [`low`, `high`] at which the polynomial changes sign, in order, to the last bit.
///
/// Between two neighbouring stationary points a polynomial is monotone, so each such stretch holds at most one root,
/// found by bisection; the stationary points are the roots of the derivative, found the same way. A root at which the
/// sign does not change is missed unless it is hit exactly.
///
/// # Example
/// ```
/// let roots = plumbsight::optics::polynomial::roots_between(&[-2.0, 0.0, 1.0], 0.0, 5.0);
/// assert_eq!(roots, vec![2.0_f64.sqrt()]);
/// ```
pub fn roots_between(coefficients: &[f64], low: f64, high: f64) -> Vec<f64> {
    let degree = coefficients.iter().rposition(|&coefficient| coefficient != 0.0).unwrap_or(0);
    if degree == 0 {
        return Vec::new();
    }
    let coefficients = &coefficients[..=degree];
    let mut bounds = vec![low];
    bounds.extend(roots_between(&derivative(coefficients), low, high));
    bounds.push(high);
    let mut roots = Vec::new();
    for stretch in bounds.windows(2) {
        let (mut a, mut b) = (stretch[0], stretch[1]);
        let (value_a, value_b) = (evaluate(coefficients, a), evaluate(coefficients, b));
        if value_a == 0.0 {
            if roots.last() != Some(&a) {
                roots.push(a);
            }
            continue;
        }
        if value_b == 0.0 {
            roots.push(b);
            continue;
        }
        if (value_a < 0.0) == (value_b < 0.0) {
            continue;
        }
        loop {
            let middle = 0.5 * (a + b);
            if middle <= a || middle >= b {
                break;
            }
            if (evaluate(coefficients, middle) < 0.0) == (value_a < 0.0) {
                a = middle;
            } else {
                b = middle;
            }
        }
        roots.push(if evaluate(coefficients, a).abs() < evaluate(coefficients, b).abs() { a } else { b });
    }
    roots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_every_crossing_of_a_wiggly_polynomial() {
        // (x − 0.5)(x − 1)(x − 2)(x − 3.25)
        let factors = [[-0.5, 1.0], [-1.0, 1.0], [-2.0, 1.0], [-3.25, 1.0]];
        let polynomial = factors.iter().fold(vec![1.0], |all, factor| product(&all, factor));
        let roots = roots_between(&polynomial, 0.0, 10.0);
        assert_eq!(roots.len(), 4);
        for (root, expected) in roots.iter().zip([0.5, 1.0, 2.0, 3.25]) {
            assert!((root - expected).abs() < 1e-13);
        }
        assert!(roots_between(&polynomial, 4.0, 10.0).is_empty());
    }
}
