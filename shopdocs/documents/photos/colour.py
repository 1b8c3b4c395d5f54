"""Brings any mode and colour profile to plain sRGB."""

from io import BytesIO

from PIL import Image, ImageCms

_CONVERTIBLE = {"RGB", "L", "CMYK"}


def to_srgb(image: Image.Image, profile: bytes | None = None) -> Image.Image:
    """An RGB picture in sRGB with nothing beside the pixels, from one that `plain` made.

    A profile that is damaged, or of another colour space than the pixels, is left out of account.
    """
    if profile and image.mode in _CONVERTIBLE:
        image = _through(profile, image)
    if image.mode != "RGB":
        image = image.convert("RGB")
    image.info = {}  # comment, Exif, XMP and profile would otherwise travel on with the next save
    return image


def plain(image: Image.Image) -> Image.Image:
    """The picture as grey, RGB or CMYK of eight bits, on white where it was clear."""
    return _without_alpha(_eight_bits(image))


def _eight_bits(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I"):  # 16 bits of grey
        return image.convert("I").point(lambda value: value * (1 / 256) + 0).convert("L")
    if image.mode == "1":
        return image.convert("L")
    if image.mode == "P":
        return image.convert("RGBA" if "transparency" in image.info else "RGB")
    if image.mode in {"L", "RGB"} and "transparency" in image.info:
        return image.convert("RGBA")
    return image


def _without_alpha(image: Image.Image) -> Image.Image:
    if image.mode in {"LA", "PA"}:
        image = image.convert("RGBA")
    if image.mode != "RGBA":
        return image
    paper = Image.new("RGB", image.size, "white")
    paper.paste(image, mask=image.getchannel("A"))
    return paper


def _through(profile: bytes, image: Image.Image) -> Image.Image:
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        target = ImageCms.createProfile("sRGB")
        turned = ImageCms.profileToProfile(image, source, target, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return image
    return turned if turned is not None else image
