"""The one place that asks SciPy: quantiles and tails of the distributions that limits and intervals stand on.

It is loaded when it is first asked: a server that starts for the bedside needs none of it.
"""

from types import ModuleType


def _special() -> ModuleType:
    from scipy import special  # noqa: PLC0415  # see above

    return special


def normal_quantile(share: float) -> float:
    """What a share of a standard normal distribution lies below."""
    return float(_special().ndtri(share))


def beta_quantile(share: float, a: float, b: float) -> float:
    """What a share of a beta distribution lies below."""
    return float(_special().betaincinv(a, b, share))


def gamma_quantile(share: float, shape: float) -> float:
    """What a share of a gamma distribution of scale 1 lies below."""
    return float(_special().gammaincinv(shape, share))


def binomial_up_to(count: int, of: int, share: float) -> float:
    """The chance of at most so many of so many."""
    return float(_special().bdtr(count, of, share))


def binomial_above(count: int, of: int, share: float) -> float:
    """The chance of more than so many of so many."""
    return float(_special().bdtrc(count, of, share))


def poisson_up_to(count: int, mean: float) -> float:
    """The chance of at most so many events where so many are expected."""
    return float(_special().pdtr(count, mean))


def poisson_above(count: int, mean: float) -> float:
    """The chance of more than so many events where so many are expected."""
    return float(_special().pdtrc(count, mean))
