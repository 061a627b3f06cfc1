"""What the planner computed and decided: forecasts, stock targets, make lists, the planner's own instructions."""

from stockplan.planner.models.forecasts import ForecastRun, SkuForecast, StockTarget
from stockplan.planner.models.instructions import AnnouncedDemand, PlannerInstruction
from stockplan.planner.models.learning import AcceptedFigures
from stockplan.planner.models.make_lists import ListedRun, ListedRunSize, MakeList, NotListed
from stockplan.planner.models.purchases import PurchaseAdvice
from stockplan.planner.models.replays import AskedReplay, StoredReplay
from stockplan.planner.models.shelf_advice import ShelfAdvice

__all__ = [
    "AcceptedFigures",
    "AnnouncedDemand",
    "AskedReplay",
    "ForecastRun",
    "ListedRun",
    "ListedRunSize",
    "MakeList",
    "NotListed",
    "PlannerInstruction",
    "PurchaseAdvice",
    "ShelfAdvice",
    "SkuForecast",
    "StockTarget",
    "StoredReplay",
]
