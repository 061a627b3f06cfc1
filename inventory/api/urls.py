"""Addresses of the books."""

from django.urls import path, register_converter
from django.urls.converters import StringConverter

from inventory.api.counting import views as counting
from inventory.api.floor import cart_views, run_views, step_views, stock_views, stop_views, taking_views
from inventory.api.orders import views as orders
from inventory.api.quality import views as quality
from inventory.api.service.views import ServiceView
from inventory.api.shipments.views import ShipmentsView
from inventory.api.skus.views import SkuListView
from inventory.api.stock.views import StockChangesView, StockListView
from inventory.api.trace import views as trace


class CodeConverter(StringConverter):
    """What an address names a record by. A NUL character is in no code, and PostgreSQL refuses to be asked for it."""

    regex = r"[^/\x00]+"


register_converter(CodeConverter, "code")

urlpatterns = [
    path("orders/", orders.OrderListView.as_view(), name="orders"),
    path("orders/bulk/", orders.OrderBulkView.as_view(), name="orders-bulk"),
    path("orders/<int:order>/", orders.OrderView.as_view(), name="order"),
    path("orders/<int:order>/cancel/", orders.OrderCancelView.as_view(), name="order-cancel"),
    path("stock/", StockListView.as_view(), name="stock"),
    path("stock/changes/", StockChangesView.as_view(), name="stock-changes"),
    path("skus/", SkuListView.as_view(), name="skus"),
    path("runs/", run_views.RunListView.as_view(), name="runs"),
    path("runs/<code:run>/", run_views.RunView.as_view(), name="run"),
    path("runs/<code:run>/start/", run_views.RunStartView.as_view(), name="run-start"),
    path("runs/<code:run>/finish/", run_views.RunFinishView.as_view(), name="run-finish"),
    path("runs/<code:run>/cancel/", run_views.RunCancelView.as_view(), name="run-cancel"),
    path("runs/<code:run>/reschedule/", run_views.RunRescheduleView.as_view(), name="run-reschedule"),
    path("runs/<code:run>/stops/", stop_views.RunStopsView.as_view(), name="run-stops"),
    path("runs/<code:run>/go-on/", stop_views.RunGoOnView.as_view(), name="run-go-on"),
    path("runs/<code:run>/changeover-steps/", step_views.RunStepsView.as_view(), name="run-steps"),
    path("runs/<code:run>/quality/", quality.RunQualityView.as_view(), name="run-quality"),
    path("runs/<code:run>/diameters/", quality.RunDiametersView.as_view(), name="run-diameters"),
    path("lots/<code:lot>/weighings/", quality.LotWeighingsView.as_view(), name="lot-weighings"),
    path("oven-loads/", stock_views.OvenLoadsView.as_view(), name="oven-loads"),
    path("carts/", cart_views.CartsView.as_view(), name="carts"),
    path("carts/<code:cart>/unload/", cart_views.CartUnloadView.as_view(), name="cart-unload"),
    path("pack/", stock_views.PackView.as_view(), name="pack"),
    path("counts/", stock_views.CountsView.as_view(), name="counts"),
    path("counts/next/", counting.NextCountsView.as_view(), name="next-counts"),
    path("counts/accuracy/", counting.CountAccuracyView.as_view(), name="count-accuracy"),
    path("count-sheets/", counting.CountSheetsView.as_view(), name="count-sheets"),
    path("count-sheets/<code:sheet>/", counting.CountSheetView.as_view(), name="count-sheet"),
    path("count-sheets/<code:sheet>/counts/", counting.SheetCountsView.as_view(), name="count-sheet-counts"),
    path("count-sheets/<code:sheet>/close/", counting.CountSheetCloseView.as_view(), name="count-sheet-close"),
    path("receipts/", stock_views.ReceiptsView.as_view(), name="receipts"),
    path("holds/", stock_views.HoldsView.as_view(), name="holds"),
    path("holds/<code:lot>/release/", stock_views.HoldReleaseView.as_view(), name="hold-release"),
    path("scrap/", taking_views.ScrapView.as_view(), name="scrap"),
    path("own-use/", taking_views.OwnUseView.as_view(), name="own-use"),
    path("samples/", taking_views.SamplesView.as_view(), name="samples"),
    path("returns/", taking_views.ReturnsView.as_view(), name="returns"),
    path("returns/restock/", taking_views.RestockView.as_view(), name="returns-restock"),
    path("shipments/", ShipmentsView.as_view(), name="shipments"),
    path("trace/orders/<int:order>/", trace.OrderTraceView.as_view(), name="trace-order"),
    path("trace/shipments/<int:shipment>/", trace.ShipmentTraceView.as_view(), name="trace-shipment"),
    path("trace/runs/<code:run>/", trace.RunTraceView.as_view(), name="trace-run"),
    path("trace/lots/<code:lot>/", trace.LotTraceView.as_view(), name="trace-lot"),
    path("service/", ServiceView.as_view(), name="service"),
]
