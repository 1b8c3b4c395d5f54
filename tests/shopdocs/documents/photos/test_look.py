"""Hints for the bench: blurred, dark, double."""

import pytest
from PIL import Image, ImageEnhance, ImageFilter

from shopdocs.documents.photos import look as looks
from shopdocs.documents.photos.look import alike, distance
from shopdocs.documents.photos.sizes import upright


def look(data):
    return looks.look(upright(data, within=(709, 591)))


def fingerprint(data):
    return looks.fingerprint(upright(data, within=(709, 591)))


def doubles(kept, data):
    """Whether the door would take the picture for the one that has this mark."""
    turned = looks.fingerprints_turned(upright(data, within=(709, 591)))
    return any(alike(kept, mark) for mark in turned)


def codes(data):
    return [warning.code for warning in look(data)]


@pytest.mark.parametrize("seed", range(5))
def test_a_sharp_bright_picture_gets_no_hint_and_a_blurred_or_dark_one_does(make, seed):
    scene = make["bench"](seed, (1024, 768))
    assert codes(make["encoded"](scene, "JPEG")) == []
    assert codes(make["encoded"](scene.filter(ImageFilter.GaussianBlur(10)), "JPEG")) == ["blurred"]
    assert "dark" in codes(make["encoded"](ImageEnhance.Brightness(scene).enhance(0.2), "JPEG"))


def test_a_hint_says_what_to_do_and_what_was_measured(make):
    (warning, *_) = look(make["encoded"](Image.new("RGB", (90, 90), (8, 8, 8)), "PNG"))
    assert warning.code == "dark"
    assert warning.measured == pytest.approx(8, abs=1)
    assert "more light" in warning.text


def test_a_tiny_picture_does_not_trip_the_look(make):
    assert codes(make["encoded"](Image.new("RGB", (1, 1), "white"), "PNG")) == ["blurred"]


def test_the_same_photo_is_found_again_after_re_saving_resizing_and_turning(make):
    scene = make["bench"](3, (1024, 768))
    original = fingerprint(make["encoded"](scene, "JPEG", quality=92))
    lying = scene.transpose(Image.Transpose.ROTATE_90)
    others = [
        make["encoded"](scene, "JPEG", quality=40),
        make["encoded"](scene.resize((400, 300)), "WEBP"),
        make["encoded"](ImageEnhance.Brightness(scene).enhance(1.1), "PNG"),
        make["encoded"](lying, "JPEG", exif=make["camera_exif"](6)),
    ]
    for other in others:
        assert alike(original, fingerprint(other))


def test_different_photos_are_not_taken_for_doubles(make):
    prints = [fingerprint(make["encoded"](make["bench"](seed), "JPEG")) for seed in range(12)]
    pairs = [(a, b) for i, a in enumerate(prints) for b in prints[:i]]
    assert len(pairs) == 66
    assert not any(alike(a, b) for a, b in pairs)


def test_a_copy_that_was_turned_mirrored_or_cut_is_found(make):
    scene = make["bench"](3, (900, 700))
    kept = fingerprint(make["encoded"](scene, "JPEG"))
    inner = scene.crop((45, 35, 855, 665))  # a tenth of each side is gone
    for number, turn in enumerate((None, *Image.Transpose)):
        copy = scene.transpose(turn) if turn is not None else scene
        cut = inner.transpose(turn) if turn is not None else inner
        for data in (make["encoded"](copy, "JPEG", quality=60), make["encoded"](cut, "JPEG", quality=60)):
            assert doubles(kept, data), f"turn {number}"
    whole = make["encoded"](scene, "JPEG")
    assert doubles(fingerprint(make["encoded"](inner, "JPEG")), whole), "the whole of a cutting that came first"


def test_two_photos_are_no_doubles_however_one_is_turned(make):
    marks = [looks.fingerprints_turned(make["bench"](seed, (400, 300))) for seed in range(12)]
    assert not any(alike(marks[i][0], turned) for i in range(12) for j in range(i) for turned in marks[j])


def test_plain_pictures_are_not_like_each_other(make):
    noise = Image.effect_noise((400, 300), 12)
    light = Image.linear_gradient("L").resize((400, 300)).point(lambda value: 128 + value // 16)
    walls = [Image.new("RGB", (400, 300), colour) for colour in ("white", "grey", (30, 60, 200))]
    walls += [noise.convert("RGB"), light.convert("RGB")]
    walls += [Image.blend(wall, noise.convert("RGB"), 0.3) for wall in walls[:3]]
    walls[0].paste("black", (20, 20, 60, 50))  # a small thing on white paper
    for wall in walls:
        data = make["encoded"](wall, "JPEG")
        assert fingerprint(data) == "" and not any(
            doubles(fingerprint(data), make["encoded"](w, "JPEG")) for w in walls
        )
    assert not alike("", "")


def test_a_mark_of_another_make_is_not_compared(make):
    mark = fingerprint(make["encoded"](make["bench"](3), "JPEG"))
    assert len(mark) == 512 and not alike(mark, mark[:16])


def test_a_rising_and_a_falling_ramp_are_sixty_four_apart(make):
    ramp = Image.linear_gradient("L").transpose(Image.Transpose.ROTATE_90)
    rising, falling = ramp, ramp.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    one, other = (fingerprint(make["encoded"](image, "PNG")) for image in (rising, falling))
    assert distance(one, other) == 64
    assert distance(one, one) == 0
    assert distance(f"{0b1011:032x}", f"{0b0001:032x}") == 2


def test_a_bright_plate_on_dark_ground_is_no_dark_picture_and_a_glint_is_no_plate(make) -> None:
    ground = Image.new("RGB", (1200, 900), (12, 12, 12))
    plate = Image.new("RGB", (300, 160), (235, 235, 235))
    ground.paste(make["bench"](3, (280, 140)), (460, 380))
    dark = make["encoded"](ImageEnhance.Brightness(ground).enhance(0.3), "PNG")
    ground.paste(plate, (450, 300))
    glint = Image.new("RGB", (1200, 900), (12, 12, 12))
    glint.paste(plate.resize((150, 80)), (450, 300))
    assert "dark" in codes(dark) and "dark" in codes(make["encoded"](glint, "PNG"))
    assert "dark" not in codes(make["encoded"](ground, "PNG"))
