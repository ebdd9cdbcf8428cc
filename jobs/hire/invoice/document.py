"""An invoice or credit note as the European standard EN 16931 models it, in plain words.

Each field names the business term (BT) or group (BG) it is. Money is Decimal in the document's currency,
already rounded; quantities and prices are Decimal of any precision; dates are days. A credit note says by its
kind that its amounts are owed the other way, so what it gives back is positive. Everything is a frozen value.

What the standard has and this leaves out, because a hire bill never needs it: a second accounting currency
(BT-6, BT-111), a payee other than the seller (BG-10), a tax representative (BG-11), payment by card or direct
debit (BG-18, BG-19), prices with a discount inside (BT-147, BT-148), attached files (BT-125).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

NIL = Decimal(0)
SPECIFICATION = "urn:cen.eu:en16931:2017"


@dataclass(frozen=True)
class Address:
    """A postal address (BG-5, BG-8). `country` is an ISO 3166-1 code of two letters."""

    street: str = ""
    further: str = ""
    city: str = ""
    postcode: str = ""
    region: str = ""
    country: str = ""


@dataclass(frozen=True)
class Party:
    """The seller (BG-4) or the buyer (BG-7)."""

    name: str
    address: Address = Address()
    vat_id: str = ""  # BT-31, BT-48: with its country's prefix
    tax_number: str = ""  # BT-32: the seller's number with the tax office, where it has no country's prefix
    registration: str = ""  # BT-30, BT-47: in the register of companies
    identifier: str = ""  # BT-29, BT-46: what the two know each other by
    contact: str = ""
    phone: str = ""
    email: str = ""
    electronic_address: str = ""  # BT-34, BT-49
    electronic_scheme: str = ""


@dataclass(frozen=True)
class Extra:
    """An allowance (BG-20, BG-27) or, with `charge`, a charge (BG-21, BG-28)."""

    amount: Decimal
    reason: str
    charge: bool = False
    category: str = ""  # of the tax, for those of the whole document
    rate: Decimal = NIL

    @property
    def signed(self) -> Decimal:
        """What it adds to the total."""
        return self.amount if self.charge else -self.amount


@dataclass(frozen=True)
class DocumentLine:
    """A line (BG-25): `net` = `quantity` x `price` / `per` and its extras, rounded."""

    id: str
    name: str
    net: Decimal
    category: str
    rate: Decimal
    quantity: Decimal = Decimal(1)
    unit: str = "C62"
    price: Decimal = NIL
    per: Decimal = Decimal(1)
    description: str = ""
    note: str = ""
    item: str = ""
    first: date | None = None
    last: date | None = None
    extras: tuple[Extra, ...] = ()


@dataclass(frozen=True)
class Breakdown:
    """The tax of one category and rate (BG-23); `reason` why there is none, where the category asks for one."""

    category: str
    rate: Decimal
    base: Decimal
    amount: Decimal
    reason: str = ""


@dataclass(frozen=True)
class Totals:
    """The document's totals (BG-22)."""

    lines: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    due: Decimal
    allowances: Decimal = NIL
    charges: Decimal = NIL
    paid: Decimal = NIL
    rounding: Decimal = NIL


@dataclass(frozen=True)
class Preceding:
    """An earlier invoice that this one refers to (BG-3)."""

    number: str
    issued: date | None = None


@dataclass(frozen=True)
class Account:
    """Where to pay (BG-17)."""

    number: str
    name: str = ""
    bank: str = ""  # BT-86: the bank's identifier


@dataclass(frozen=True)
class Document:
    """An invoice (type 380) or a credit note (381)."""

    kind: Literal["invoice", "credit_note"]
    number: str
    issued: date | None
    currency: str
    seller: Party
    buyer: Party
    lines: tuple[DocumentLine, ...]
    breakdown: tuple[Breakdown, ...]
    totals: Totals
    due: date | None = None
    note: str = ""
    buyer_reference: str = ""
    order: str = ""
    contract: str = ""
    first: date | None = None
    last: date | None = None
    preceding: tuple[Preceding, ...] = ()
    deliver_to: Address | None = None
    delivered: date | None = None
    terms: str = ""
    account: Account | None = None
    payment_reference: str = ""
    extras: tuple[Extra, ...] = ()

    @property
    def type_code(self) -> str:
        """BT-3, of UNTDID 1001."""
        return "381" if self.kind == "credit_note" else "380"
