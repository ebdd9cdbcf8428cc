"""A bill as an invoice by EN 16931: the document, its business rules, and UBL 2.1. Pure."""
