"""Who is let in: people, passwords, passkeys, sessions, phones, certificates, parcels; kept apart from the record."""

from broodsweep.access.book import Access, open_access

__all__ = ["Access", "open_access"]
