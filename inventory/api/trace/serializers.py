"""Shapes of a trace."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class SpoolLotSerializer(serializers.Serializer[Any]):
    """One lot of spools."""

    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    run = serializers.CharField(
        source="run_code", allow_null=True, help_text="code of the run that wound it; null: from before the books"
    )
    quantity = serializers.FloatField(
        help_text="spools that left with the order or shipment; of a lot: that were wound"
    )
    is_held = serializers.BooleanField(help_text="held for quality now: cannot be used or shipped")


class MaterialLotSerializer(serializers.Serializer[Any]):
    """What a run drew of a lot of material or parts."""

    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    item = serializers.CharField(source="item_code", help_text="code of the material or part")
    supplier_lot = serializers.CharField(help_text="the supplier's own code of the lot")
    run = serializers.CharField(source="run_code", help_text="code of the run that drew it")
    quantity = serializers.FloatField(help_text="kg or pieces")


class LotAtPlaceSerializer(serializers.Serializer[Any]):
    """What of a lot lies at a place."""

    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    item = serializers.CharField(source="item_code", help_text="code of the SKU, material or part")
    unit = serializers.CharField(help_text="of the quantity: spool, kg or piece")
    place = serializers.CharField(source="place_code", help_text="code of the place")
    is_in_plant = serializers.BooleanField(help_text="false: it left, to a customer, as a sample, as scrap")
    quantity = serializers.FloatField(help_text="in the unit")


class DeliverySerializer(serializers.Serializer[Any]):
    """Spools of a lot that left with an order."""

    order = serializers.IntegerField(source="order_id", help_text="id of the order")
    channel = serializers.CharField(source="channel_code", help_text="where the order came from")
    reference = serializers.CharField(help_text="the channel's own number of the order")
    ship_to = serializers.CharField(help_text="where it went")
    shipment = serializers.IntegerField(source="shipment_id", help_text="id of the shipment")
    ship_day = serializers.DateField(help_text="local day on which it left")
    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    quantity = serializers.FloatField(help_text="spools")


class TraceSerializer(serializers.Serializer[Any]):
    """Lots of spools, the material in them, where they lie and who got them."""

    as_of = serializers.DateTimeField(help_text="the instant as of which the books were read")
    spools = SpoolLotSerializer(many=True, help_text="lots of spools")
    runs = serializers.ListField(child=serializers.CharField(), help_text="codes of the runs that wound them")
    materials = MaterialLotSerializer(many=True, help_text="what these runs drew; of a lot of material: of that lot")
    places = LotAtPlaceSerializer(many=True, help_text="where what is left of the lots lies")
    delivered = DeliverySerializer(many=True, help_text="every delivery of these lots of spools, to whomever")
    unexplained = MaterialLotSerializer(
        many=True,
        help_text="of a lot of material: what runs drew of the same material from no known lot, since this one came",
    )
