"""Prior rates from attributes and what a SKU's own sales make of them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from forecasting.credibility import (
    RatePrior,
    attribute_design,
    borrowed_rate,
    fit_rate_prior,
    prior_demands,
    shrunk_size,
)


@pytest.fixture(scope="module")
def kin() -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    table = pd.DataFrame({"material": np.repeat(["hard", "soft"], 60), "size": np.tile(["1 kg", "250 g"], 60)})
    rate = np.where(table["material"] == "hard", 2.0, 0.5) * np.where(table["size"] == "1 kg", 1.5, 0.6)
    units = rng.poisson(rng.gamma(4.0, rate / 4.0) * 100.0).astype(float)
    return table, units, np.full(120, 100.0)


def test_prior_equals_statsmodels_negative_binomial_regression(
    kin: tuple[pd.DataFrame, np.ndarray, np.ndarray],
) -> None:
    table, units, exposure = kin
    design = attribute_design(table, skus=table.index, units=units)
    prior = fit_rate_prior(units=units, exposure=exposure, design=design)
    family = sm.families.NegativeBinomial(alpha=1 / prior.size)
    fit = sm.GLM(units, sm.add_constant(design), family=family, exposure=exposure).fit()
    np.testing.assert_allclose(prior.mean, fit.fittedvalues / exposure, rtol=1e-5)


def test_prior_finds_the_rates_that_made_the_sales(kin: tuple[pd.DataFrame, np.ndarray, np.ndarray]) -> None:
    table, units, exposure = kin
    prior = fit_rate_prior(
        units=units, exposure=exposure, design=attribute_design(table, skus=table.index, units=units)
    )
    # 30 SKUs per cell with a gamma spread of 1/2: a standard error of about 0.09 in relative terms.
    np.testing.assert_allclose(prior.mean[[0, 1, 60, 61]], [3.0, 1.2, 0.75, 0.3], rtol=0.3)
    assert prior.size == pytest.approx(4.0, rel=0.5)


def test_prior_serves_a_sku_without_any_record(kin: tuple[pd.DataFrame, np.ndarray, np.ndarray]) -> None:
    table, units, exposure = kin
    newcomer = pd.concat([table, table.iloc[:1]], ignore_index=True)
    sold, seen = np.append(units, 0.0), np.append(exposure, 0.0)
    design = attribute_design(newcomer, skus=newcomer.index, units=sold)
    prior = fit_rate_prior(units=sold, exposure=seen, design=design)
    rate = prior.posterior_mean(units=sold, exposure=seen)
    assert rate[-1] == pytest.approx(prior.mean[0])


def test_posterior_equals_hand_calculation() -> None:
    # Gamma prior of mean 2 and size 3; 8 units in 10 periods: (3 + 8) / (3 / 2 + 10); relative variance 1 / 11.
    prior = RatePrior(mean=np.array([2.0]), size=3.0, source="by hand")
    assert prior.posterior_mean(units=np.array([8.0]), exposure=np.array([10.0]))[0] == pytest.approx(11 / 11.5)
    assert prior.posterior_variation(units=np.array([8.0]))[0] == pytest.approx(1 / 11)


def test_prior_is_the_common_rate_and_says_so_when_there_are_no_attributes() -> None:
    units, exposure = np.array([10.0, 30.0]), np.array([20.0, 20.0])
    prior = fit_rate_prior(units=units, exposure=exposure, design=np.zeros((2, 0)))
    assert prior.source == "mean rate of all SKUs"
    np.testing.assert_allclose(prior.mean, 1.0)


def test_design_leaves_rare_values_in_the_base() -> None:
    table = pd.DataFrame({"colour": ["a"] * 3 + ["b"] * 3 + ["c"] * 2})
    design = attribute_design(table, skus=table.index, units=np.ones(8))
    np.testing.assert_array_equal(design[:, 0], [0, 0, 0, 1, 1, 1, 0, 0])
    assert design.shape == (8, 1)


def test_borrowed_rate_equals_hand_calculation() -> None:
    # Prior of 0.2 demands a period and size 3: (3 + 4) / (3 / 0.2 + 10) demands of 5 units; one SKU: the prior is
    # scaled to its own 0.4 first, (3 + 4) / (3 / 0.4 + 10).
    prior = RatePrior(mean=np.array([0.2]), size=3.0, source="by hand")
    found = borrowed_rate(demands=np.array([4.0]), exposure=np.array([10.0]), prior=prior, size=np.array([5.0]))
    assert found.mean[0] == pytest.approx(5 * 7 / 17.5)
    assert found.variation[0] == pytest.approx(1 / 7)


def test_borrowed_rate_of_a_sku_that_never_sold_is_small_and_uncertain() -> None:
    prior = RatePrior(mean=np.full(3, 0.5), size=2.0, source="by hand")
    demands, exposure = np.array([60.0, 40.0, 0.0]), np.full(3, 100.0)
    found = borrowed_rate(demands=demands, exposure=exposure, prior=prior, size=np.ones(3))
    assert 0.0 < found.mean[2] < 0.05 < found.mean[1]
    assert found.variation[2] == pytest.approx(0.5)


def test_size_of_a_demand_is_drawn_to_that_of_all_skus() -> None:
    # By hand: own sizes 10 (of 100 demands, counted 10) and 4 (of 5): (10 x 10 + 5 x 4) / 15 = 8 for all. In shares of
    # 8: M = (100 x 1.25 + 5 x 0.5) / 105 = 1.2143, W = (100 x 32 + 5 x 32) / 64 / 103 = 0.50971,
    # B = (100 x 0.0357^2 + 5 x 0.7143^2 - W) / (105 - 10025 / 105) = 2.16886 / 9.5238 = 0.22773, W / B = 2.23821.
    sizes = shrunk_size(
        mean=np.array([10.0, 4.0, 0.0]),
        variance=np.array([32.0, 32.0, 0.0]),
        demands=np.array([100.0, 5.0, 0.0]),
        design=np.zeros((3, 0)),
    )
    k = 2.23821
    np.testing.assert_allclose(sizes, [(1000 + k * 8) / (100 + k), (20 + k * 8) / (5 + k), 8.0], rtol=1e-4)


def test_kin_count_for_little_where_sizes_differ_between_skus_and_for_all_where_they_do_not() -> None:
    # Drawn with variances within and between that are known: within 4, between 1 and 0.
    rng = np.random.default_rng(4)
    drawn = rng.normal(size=(3000, 6)) * 2.0 + 10.0
    differs = drawn + rng.normal(size=(3000, 1))
    n = np.full(3000, 6.0)
    assert prior_demands(differs.mean(axis=1), differs.var(axis=1), n) == pytest.approx(4.0, rel=0.15)
    assert prior_demands(drawn.mean(axis=1), drawn.var(axis=1), n) == 20.0


def test_size_of_a_demand_is_one_when_nothing_ever_sold() -> None:
    np.testing.assert_array_equal(
        shrunk_size(mean=np.zeros(2), variance=np.zeros(2), demands=np.zeros(2), design=np.zeros((2, 0))), [1.0, 1.0]
    )


def test_size_of_a_demand_is_that_of_its_kin_when_it_never_sold() -> None:
    # Two kinds that sell in ones and in tens, twelve SKUs each; the last SKU is of the second kind.
    kind = np.append(np.repeat([0.0, 1.0], 12), 1.0)
    demands = np.append(np.full(24, 5.0), 0.0)
    sizes = shrunk_size(
        mean=np.where(demands > 0, np.where(kind > 0, 10.0, 1.0), 0.0),
        variance=np.zeros(25),
        demands=demands,
        design=kind[:, None],
    )
    assert sizes[-1] == pytest.approx(10.0)
