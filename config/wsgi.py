import gc
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

# What is loaded by now stays for good, and a page of a large job makes many objects that all live until it is sent:
# looking for garbage among them at every seven hundred took a third of its time.
gc.freeze()
gc.set_threshold(50_000, 20, 20)
