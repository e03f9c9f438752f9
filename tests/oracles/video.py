"""What does another player show of a video?

Standard input: {"video": path, "animation": path}, two films of the same frames. Standard output: the codec and size; of every
frame the second at which it is shown, and how far it is on average (of 255) from each frame of the animation.
"""

import json
import sys

import av
import numpy
from PIL import Image

paths = json.load(sys.stdin)
animation = Image.open(paths["animation"])
drawn = []
for number in range(animation.n_frames):
    animation.seek(number)
    drawn.append(numpy.asarray(animation.convert("RGB")).astype(int))
with av.open(paths["video"]) as container:
    stream = container.streams.video[0]
    shown = [(float(frame.time), frame.to_ndarray(format="rgb24")) for frame in container.decode(stream)]
    json.dump(
        {
            "decoder": stream.codec_context.name,
            "size": [stream.width, stream.height],
            "frames": [
                {"at_s": at_s, "apart": [float(abs(picture - one).mean()) for one in drawn]} for at_s, picture in shown
            ],
        },
        sys.stdout,
    )
