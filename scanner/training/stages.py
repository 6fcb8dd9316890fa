"""Both stages of the reader, as they are trained: the recogniser and the decoder behind it."""

from __future__ import annotations

from pathlib import Path

import torch
from torch import Tensor, nn

from scanner.training.decoder import LineDecoder
from scanner.training.network import GraphNetwork


class Reader(nn.Module):
    """Both stages."""

    def __init__(self, start: Path, device: torch.device) -> None:
        super().__init__()
        self.recogniser = GraphNetwork(start / "recogniser.onnx")
        self.decoder = LineDecoder()
        self.to(device)

    def forward(self, images: Tensor, tokens: Tensor, rows: Tensor) -> tuple[Tensor, Tensor | None]:
        """Token scores of all lines, and frame scores of those in ``rows``."""
        with torch.autocast(images.device.type, torch.bfloat16):
            features = self.recogniser.features(network_input(images))
            frames = None
            if len(rows):
                frames = self.recogniser.scores(features)[rows]
            return self.decoder(features, tokens), frames


def network_input(images: Tensor) -> Tensor:
    """Grey levels (line, height, width) to what the graph takes: (line, 3, height, width)."""
    x = images.float().div(127.5).sub(1.0)
    return x[:, None].expand(-1, 3, -1, -1).contiguous(memory_format=torch.channels_last)
