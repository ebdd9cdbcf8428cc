"""A document in UBL 2.1 syntax: Invoice or CreditNote, as EN 16931 binds it (CEN/TS 16931-3-2).

Writes what the document says and adds nothing; whether it keeps the business rules is `checks`' to say. The two
kinds differ in the names of a few elements, and a credit note has no due date of its own: it goes beside the
means of payment. Characters that XML cannot carry become spaces.
"""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

from jobs.currencies import minor_units
from jobs.hire.invoice.document import (
    SPECIFICATION,
    Address,
    Breakdown,
    Document,
    DocumentLine,
    Extra,
    Party,
    Totals,
)
from jobs.hire.rounding import rounded

ROOT = "urn:oasis:names:specification:ubl:schema:xsd:"
CAC = f"{ROOT}CommonAggregateComponents-2"
CBC = f"{ROOT}CommonBasicComponents-2"
NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
CREDIT_TRANSFER, NOT_SAID = "30", "1"  # UNTDID 4461

register_namespace("ubl", f"{ROOT}Invoice-2")
register_namespace("cn", f"{ROOT}CreditNote-2")
register_namespace("cac", CAC)
register_namespace("cbc", CBC)


def write(document: Document) -> bytes:
    """The document as UTF-8 XML. Raises BadRequest for a currency that has no smallest unit."""
    return _Writer(document).bytes()


class _Writer:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.places = minor_units(document.currency)
        self.credit = document.kind == "credit_note"
        self.kind = "CreditNote" if self.credit else "Invoice"
        self.root = Element(f"{{{ROOT}{self.kind}-2}}{self.kind}")

    def bytes(self) -> bytes:
        self._head()
        self._references()
        self._party("AccountingSupplierParty", self.document.seller)
        self._party("AccountingCustomerParty", self.document.buyer)
        self._delivery()
        self._payment()
        for extra in self.document.extras:
            self._extra(self.root, extra, taxed=True)
        self._tax()
        self._totals(self.document.totals)
        for line in self.document.lines:
            self._line(line)
        indent(self.root)
        written: bytes = tostring(self.root, encoding="utf-8", xml_declaration=True)
        return written

    def _head(self) -> None:
        document, root = self.document, self.root
        _text(root, "CustomizationID", SPECIFICATION)
        _text(root, "ID", document.number)
        _text(root, "IssueDate", document.issued)
        if not self.credit:
            _text(root, "DueDate", document.due)
        _text(root, f"{self.kind}TypeCode", document.type_code)
        _text(root, "Note", document.note)
        _text(root, "DocumentCurrencyCode", document.currency)
        _text(root, "BuyerReference", document.buyer_reference)
        self._period(root, document.first, document.last)

    def _period(self, parent: Element, first: date | None, last: date | None) -> None:
        if first or last:
            period = _node(parent, "InvoicePeriod")
            _text(period, "StartDate", first)
            _text(period, "EndDate", last)

    def _references(self) -> None:
        document, root = self.document, self.root
        if document.order:
            _text(_node(root, "OrderReference"), "ID", document.order)
        for one in document.preceding:
            reference = _node(_node(root, "BillingReference"), "InvoiceDocumentReference")
            _text(reference, "ID", one.number)
            _text(reference, "IssueDate", one.issued)
        if document.contract:
            _text(_node(root, "ContractDocumentReference"), "ID", document.contract)

    def _party(self, name: str, party: Party) -> None:
        node = _node(_node(self.root, name), "Party")
        if party.electronic_scheme:
            _text(node, "EndpointID", party.electronic_address, schemeID=party.electronic_scheme)
        if party.identifier:
            _text(_node(node, "PartyIdentification"), "ID", party.identifier)
        self._address(_node(node, "PostalAddress"), party.address)
        for number, kind in ((party.vat_id, "VAT"), (party.tax_number, "TAX")):
            if number:
                scheme = _node(node, "PartyTaxScheme")
                _text(scheme, "CompanyID", number)
                _text(_node(scheme, "TaxScheme"), "ID", kind)
        legal = _node(node, "PartyLegalEntity")
        _text(legal, "RegistrationName", party.name)
        _text(legal, "CompanyID", party.registration)
        if party.contact or party.phone or party.email:
            contact = _node(node, "Contact")
            _text(contact, "Name", party.contact)
            _text(contact, "Telephone", party.phone)
            _text(contact, "ElectronicMail", party.email)

    def _address(self, node: Element, address: Address) -> None:
        _text(node, "StreetName", address.street)
        _text(node, "AdditionalStreetName", address.further)
        _text(node, "CityName", address.city)
        _text(node, "PostalZone", address.postcode)
        _text(node, "CountrySubentity", address.region)
        if address.country:
            _text(_node(node, "Country"), "IdentificationCode", address.country)

    def _delivery(self) -> None:
        document = self.document
        if document.delivered is None and document.deliver_to is None:
            return
        delivery = _node(self.root, "Delivery")
        _text(delivery, "ActualDeliveryDate", document.delivered)
        if document.deliver_to is not None:
            self._address(_node(_node(delivery, "DeliveryLocation"), "Address"), document.deliver_to)

    def _payment(self) -> None:
        document = self.document
        late = document.due if self.credit else None
        if document.account or document.payment_reference or late:
            means = _node(self.root, "PaymentMeans")
            _text(means, "PaymentMeansCode", CREDIT_TRANSFER if document.account else NOT_SAID)
            _text(means, "PaymentDueDate", late)
            _text(means, "PaymentID", document.payment_reference)
            if document.account:
                account = _node(means, "PayeeFinancialAccount")
                _text(account, "ID", document.account.number)
                _text(account, "Name", document.account.name)
                if document.account.bank:
                    _text(_node(account, "FinancialInstitutionBranch"), "ID", document.account.bank)
        if document.terms:
            _text(_node(self.root, "PaymentTerms"), "Note", document.terms)

    def _extra(self, parent: Element, extra: Extra, taxed: bool) -> None:
        node = _node(parent, "AllowanceCharge")
        _text(node, "ChargeIndicator", "true" if extra.charge else "false")
        _text(node, "AllowanceChargeReason", extra.reason)
        self._money(node, "Amount", extra.amount)
        if taxed:
            self._category(_node(node, "TaxCategory"), extra.category, extra.rate)

    def _tax(self) -> None:
        total = _node(self.root, "TaxTotal")
        self._money(total, "TaxAmount", self.document.totals.tax)
        for group in self.document.breakdown:
            self._group(_node(total, "TaxSubtotal"), group)

    def _group(self, node: Element, group: Breakdown) -> None:
        self._money(node, "TaxableAmount", group.base)
        self._money(node, "TaxAmount", group.amount)
        self._category(_node(node, "TaxCategory"), group.category, group.rate, group.reason)

    def _category(self, node: Element, category: str, rate: Decimal, reason: str = "") -> None:
        _text(node, "ID", category)
        if category != "O":  # BR-O-05: what is not subject to tax has no rate, not even nought
            _text(node, "Percent", plain(rate))
        _text(node, "TaxExemptionReason", reason)
        _text(_node(node, "TaxScheme"), "ID", "VAT")

    def _totals(self, totals: Totals) -> None:
        node = _node(self.root, "LegalMonetaryTotal")
        self._money(node, "LineExtensionAmount", totals.lines)
        self._money(node, "TaxExclusiveAmount", totals.net)
        self._money(node, "TaxInclusiveAmount", totals.gross)
        for name, amount in (
            ("AllowanceTotalAmount", totals.allowances),
            ("ChargeTotalAmount", totals.charges),
            ("PrepaidAmount", totals.paid),
            ("PayableRoundingAmount", totals.rounding),
        ):
            if amount:
                self._money(node, name, amount)
        self._money(node, "PayableAmount", totals.due)

    def _line(self, line: DocumentLine) -> None:
        node = _node(self.root, f"{self.kind}Line")
        _text(node, "ID", line.id)
        _text(node, "Note", line.note)
        quantity = "CreditedQuantity" if self.credit else "InvoicedQuantity"
        _text(node, quantity, plain(line.quantity), unitCode=line.unit)
        self._money(node, "LineExtensionAmount", line.net)
        self._period(node, line.first, line.last)
        for extra in line.extras:
            self._extra(node, extra, taxed=False)
        item = _node(node, "Item")
        _text(item, "Description", line.description)
        _text(item, "Name", line.name)
        if line.item:
            _text(_node(item, "SellersItemIdentification"), "ID", line.item)
        self._category(_node(item, "ClassifiedTaxCategory"), line.category, line.rate)
        price = _node(node, "Price")
        _text(price, "PriceAmount", plain(line.price), currencyID=self.document.currency)
        if line.per != 1:
            _text(price, "BaseQuantity", plain(line.per), unitCode=line.unit)

    def _money(self, parent: Element, name: str, amount: Decimal) -> None:
        _text(parent, name, money_text(amount, self.places), currencyID=self.document.currency)


def money_text(amount: Decimal, places: int) -> str:
    """An amount with its currency's decimals, or more where it has more: what is wrong stays to be seen."""
    whole = rounded(amount, places)
    return format(whole if whole == amount else amount, "f")


def plain(number: Decimal) -> str:
    """A number without exponent or trailing noughts.

    >>> plain(Decimal("40.00")), plain(Decimal("1E+2")), plain(Decimal("0.0010"))
    ('40', '100', '0.001')
    """
    return format(number.normalize(), "f")


def _node(parent: Element, name: str) -> Element:
    return SubElement(parent, f"{{{CAC}}}{name}")


def _text(parent: Element, name: str, value: str | date | None, **attributes: str) -> None:
    """An element with a text, left out where there is nothing to say."""
    said = NOT_XML.sub(" ", value.isoformat() if isinstance(value, date) else value or "").strip()
    if said:
        SubElement(parent, f"{{{CBC}}}{name}", attributes).text = said
