// Package lsq adjusts redundant observations by weighted nonlinear least
// squares and judges the result: covariance, redundancy numbers, normalized
// residuals, free directions, and a search for blunders.
//
// It assumes uncorrelated observations with known standard uncertainties. All
// covariances use these a priori values; nothing is rescaled by the residuals.
//
// The minimizer is a Levenberg-Marquardt trust-region method in the form of
// J. J. Moré, "The Levenberg-Marquardt algorithm: implementation and theory"
// (1978), on orthogonal factorizations only; the normal equations are never
// formed. The statistics are those of W. Baarda, "A testing procedure for use
// in geodetic networks" (1968).
package lsq
