"""The exchange model: how fast a frame trades moisture with its room, with honest intervals."""

from isohume.analysis.exchange.drive import ExchangeData, exchange_data
from isohume.analysis.exchange.filter import FilteredStates, filter_states, simulate_inside
from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_data, fit_exchange
from isohume.analysis.exchange.likelihood import loglikelihood, smooth
from isohume.analysis.exchange.model import ExchangeParameters, half_time_days

__all__ = [
    "CannotTell",
    "ExchangeData",
    "ExchangeParameters",
    "FilteredStates",
    "FittedExchange",
    "exchange_data",
    "filter_states",
    "fit_data",
    "fit_exchange",
    "half_time_days",
    "loglikelihood",
    "simulate_inside",
    "smooth",
]
