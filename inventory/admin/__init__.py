"""Admin pages of the books: catalogue and plant to edit, ledger, runs, their quality, counts and orders to look at."""

from inventory.admin import books, catalogue, counting, orders, plant, quality, sealing, webhooks

__all__ = ["books", "catalogue", "counting", "orders", "plant", "quality", "sealing", "webhooks"]
