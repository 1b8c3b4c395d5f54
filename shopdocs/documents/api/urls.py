from rest_framework.routers import SimpleRouter

from .papers import Documents, Letters
from .photos import Photos

router = SimpleRouter(use_regex_path=False)
router.register("documents", Documents, basename="document")
router.register("letters", Letters, basename="letter")
router.register("photos", Photos, basename="photo")
urlpatterns = router.urls
