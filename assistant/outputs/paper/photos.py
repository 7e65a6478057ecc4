"""Photos of the family's own models, made fit for a sheet.

What lives here: turning a photo upright, making it smaller, and taking out what it tells beside the picture: place, time and
device. What must not: files; bytes come in and go out.
"""

from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from assistant.errors import SourceError

LONGEST_SIDE = 1600  # pixels: 180 mm at 220 dots an inch
MOST_PIXELS = 120_000_000  # a larger picture is no photo of a table
QUALITY = 85


def clean_photo(photo: bytes, name: str) -> bytes:
    """The photo as JPEG, upright, at most :data:`LONGEST_SIDE` long, with nothing in it but the picture.

    Args:
        name: what to call it in an error.

    Raises:
        SourceError: it is no picture that can be read.
    """
    try:
        with Image.open(BytesIO(photo)) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise SourceError(f"The photo {name} is too large ({opened.width} x {opened.height}). Save it smaller.")
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except UnidentifiedImageError as error:
        raise SourceError(f"The photo {name} is no picture. Save it as JPEG or PNG.") from error
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise SourceError(f"The photo {name} cannot be read ({error}). Save it as JPEG or PNG.") from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    out = BytesIO()
    bare.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
