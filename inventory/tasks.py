"""Long work, run by the worker beside the server."""
