"""The office: hands out the phone page, keeps what phones send, shows machines and their visits. The only importer of FastAPI
and uvicorn.

Imported by `diagnose serve` and by nothing else. Without the extra `serve` importing it raises ModuleNotFoundError.
"""

from diagnose.serve.app import make_app
from diagnose.serve.running import Place, run
from diagnose.serve.site import Office, Site, read_site

__all__ = ["Office", "Place", "Site", "make_app", "read_site", "run"]
