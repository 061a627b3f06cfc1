"""The records of the books, one noun a module."""

from inventory.models.answers import StoredAnswer
from inventory.models.carts import Cart, CartSpools
from inventory.models.catalogue import Colour, Diameter, Filament, Item, Material, Sku, SpoolSize
from inventory.models.counting import CountEntry, CountLine, CountSheet
from inventory.models.ledger import Balance, Lot, Movement, MovementLine, Place, ShelfStock
from inventory.models.orders import (
    Allocation,
    Channel,
    Order,
    OrderLine,
    OrderLineChange,
    PromiseChange,
    Shipment,
    ShipmentLine,
)
from inventory.models.plant import (
    Changeover,
    Closure,
    Crew,
    Dryer,
    Hopper,
    Line,
    LineSpeed,
    Oven,
    PlantParameters,
    Shift,
    Weekday,
    WorkDay,
)
from inventory.models.quality import DiameterReading, DiameterReport, SpoolWeighing
from inventory.models.run_plans import RunOutputPlan, RunPlan
from inventory.models.run_stops import RunStop
from inventory.models.runs import OvenLoad, Run, RunOutput
from inventory.models.sealing import LedgerSeal
from inventory.models.step_ticks import StepTick
from inventory.models.webhooks import WebhookDelivery, WebhookEndpoint, WebhookMessage, WebhookSecret

__all__ = [
    "Allocation",
    "Balance",
    "Cart",
    "CartSpools",
    "Changeover",
    "Channel",
    "Closure",
    "Colour",
    "CountEntry",
    "CountLine",
    "CountSheet",
    "Crew",
    "Diameter",
    "DiameterReading",
    "DiameterReport",
    "Dryer",
    "Filament",
    "Hopper",
    "Item",
    "LedgerSeal",
    "Line",
    "LineSpeed",
    "Lot",
    "Material",
    "Movement",
    "MovementLine",
    "Order",
    "OrderLine",
    "OrderLineChange",
    "Oven",
    "OvenLoad",
    "Place",
    "PlantParameters",
    "PromiseChange",
    "Run",
    "RunOutput",
    "RunOutputPlan",
    "RunPlan",
    "RunStop",
    "ShelfStock",
    "Shift",
    "Shipment",
    "ShipmentLine",
    "Sku",
    "SpoolSize",
    "SpoolWeighing",
    "StepTick",
    "StoredAnswer",
    "WebhookDelivery",
    "WebhookEndpoint",
    "WebhookMessage",
    "WebhookSecret",
    "Weekday",
    "WorkDay",
]
