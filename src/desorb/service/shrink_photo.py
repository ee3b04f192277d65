"""Make one smaller copy of a photo: bytes in at standard input, a JPEG out at standard output. Run as a process of its own.

Contents: main; shrunk. Limits are set before the first byte is looked at: memory, processor time, formats, pixels.
"""

from __future__ import annotations

import io
import sys
import warnings

LARGEST_MEMORY = 420 << 20  # bytes of address space; setting of ours, so that the process stays under 300 MiB
LONGEST_WORK = 10  # seconds of processor time
MOST_PIXELS = 64_000_000  # setting of ours
FORMATS = ("JPEG", "PNG", "WEBP")  # nothing else is even tried
QUALITY = 82


def _set_limits() -> None:
    try:
        import resource
    except ImportError:  # Windows has none: the time limit of the caller remains
        return
    resource.setrlimit(resource.RLIMIT_AS, (LARGEST_MEMORY, LARGEST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_WORK, LONGEST_WORK))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def shrunk(content: bytes, width: int) -> bytes:
    """A JPEG of at most this width with nothing but its pixels. Raises ValueError in words."""
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    with Image.open(io.BytesIO(content), formats=FORMATS) as image:
        if image.width * image.height > MOST_PIXELS:
            raise ValueError(f"{image.width} x {image.height} pixels are more than {MOST_PIXELS // 10**6} million")
        if image.format == "JPEG":
            image.draft("RGB", (2 * width, 2 * width))
        image.thumbnail((width, 4 * width), reducing_gap=2.0)
        turned = ImageOps.exif_transpose(image)
        if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
            layer = turned.convert("RGBA")
            plain = Image.new("RGB", layer.size, (255, 255, 255))
            plain.paste(layer, mask=layer.getchannel("A"))
        else:
            plain = turned.convert("RGB")
        bare = Image.frombytes(
            "RGB", plain.size, plain.tobytes()
        )  # pixels only: no place, no serial number, no profile
        written = io.BytesIO()
        bare.save(written, "JPEG", quality=QUALITY)
        return written.getvalue()


def main() -> int:
    _set_limits()
    try:
        made = shrunk(sys.stdin.buffer.read(), int(sys.argv[1]))
    except MemoryError:
        sys.stderr.write("it needs more memory than a photo may\n")
        return 1
    except Exception as problem:  # the picture is a stranger's: whatever it does, it is refused in one line
        sys.stderr.write(f"{type(problem).__name__}: {problem}\n")
        return 1
    sys.stdout.buffer.write(made)
    return 0


if __name__ == "__main__":
    sys.exit(main())
