package confidence

import (
	"fmt"
	"math"
)

// Score is a mean over cases, with its standard error, which takes cases as independent.
type Score struct {
	Value         float64
	OK            bool // false without cases
	StandardError float64
	Cases         int
	Warnings      []Warning
}

func newScore(of []float64) Score {
	s := Score{Cases: len(of), OK: len(of) > 0}
	if !s.OK {
		s.Warnings = []Warning{NoCases}
		return s
	}
	n := float64(len(of))
	s.Value = sum(of) / n
	if len(of) > 1 {
		squares := 0.0
		for _, v := range of {
			squares += (v - s.Value) * (v - s.Value)
		}
		s.StandardError = math.Sqrt(squares / (n - 1) / n)
	}
	if len(of) < fewCases {
		s.Warnings = append(s.Warnings, FewCases)
	}
	return s
}

// Brier is the mean of (p − y)², with y = 1 where the event happened and 0 where not: from 0, best, to 1. It is half of
// BrierOfClasses for two classes.
//
// Source: Brier G.W. 1950. Verification of forecasts expressed in terms of probability. Monthly Weather Review 78: 1-3.
func Brier(p []float64, happened []bool) (Score, error) {
	if err := checkForecasts(p, happened); err != nil {
		return Score{}, err
	}
	of := make([]float64, len(p))
	for i, v := range p {
		of[i] = caseGroup(v, happened[i]).squares
	}
	return newScore(of), nil
}

// BrierOfClasses is the mean of Σ_k (p_k − y_k)² over all classes, as Brier (1950) has it: from 0, best, to 2. p are
// probabilities of the classes for each case, summing to 1; truth is the class that came true.
func BrierOfClasses(p [][]float64, truth []int) (Score, error) {
	if err := checkClasses(p, truth); err != nil {
		return Score{}, err
	}
	of := make([]float64, len(p))
	for i, row := range p {
		for k, v := range row {
			if k == truth[i] {
				v = 1 - v
			}
			of[i] += v * v
		}
	}
	return newScore(of), nil
}

// LogScore is the mean of −ln p over the classes that came true: from 0, best, on, in natural units. A probability of 0
// counts as 1e-12, with a warning: the mean would be infinite.
//
// Source: Good I.J. 1952. Rational decisions. Journal of the Royal Statistical Society B 14: 107-114.
func LogScore(p [][]float64, truth []int) (Score, error) {
	if err := checkClasses(p, truth); err != nil {
		return Score{}, err
	}
	of, zero := make([]float64, len(p)), false
	for i, row := range p {
		of[i] = -math.Log(min(max(row[truth[i]], floor), 1))
		zero = zero || row[truth[i]] == 0
	}
	s := newScore(of)
	if zero {
		s.Warnings = append(s.Warnings, ForecastZero)
	}
	return s, nil
}

func checkClasses(p [][]float64, truth []int) error {
	if len(p) != len(truth) {
		return fmt.Errorf("%d forecasts, %d outcomes", len(p), len(truth))
	}
	for i, row := range p {
		if !isDistribution(row, len(row)) {
			return fmt.Errorf("case %d: the forecasts are no distribution", i)
		}
		if !within(truth[i], len(row)) {
			return fmt.Errorf("case %d: class %d of %d came true", i, truth[i], len(row))
		}
	}
	return nil
}
