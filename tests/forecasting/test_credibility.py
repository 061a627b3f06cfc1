"""Prior rates from attributes and what a SKU's own sales make of them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from forecasting.credibility import RatePrior, attribute_design, fit_rate_prior


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
