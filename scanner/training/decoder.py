"""The second stage of the reader: a transformer decoder that looks over a line in two dimensions.

It takes the recogniser's features, so it sees what stands above and below a fraction bar, and
writes the notation token by token (A. Vaswani et al., "Attention is all you need", NeurIPS 2017,
arXiv 1706.03762; layers normalised before each part).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

from scanner.reader.decoder import HEADS, LAYERS, WIDTH, place_codes, sine_codes
from scanner.reader.notation import END, PAD, START, TOKENS

FEATURES = 384  # channels of the recogniser's features
HIDDEN = 768
LONGEST = 200  # tokens


class LineDecoder(nn.Module):
    """``forward`` gives next-token scores for every position of given token sequences."""

    def __init__(self) -> None:
        super().__init__()
        self.before = nn.LayerNorm(FEATURES)
        self.memory_map = nn.Linear(FEATURES, WIDTH)
        self.embedding = nn.Embedding(len(TOKENS), WIDTH)
        nn.init.normal_(self.embedding.weight, std=WIDTH**-0.5)
        self.layers = nn.ModuleList(DecoderLayer() for _ in range(LAYERS))
        self.after = nn.LayerNorm(WIDTH)
        self.head = nn.Linear(WIDTH, len(TOKENS))

    def memory(self, features: Tensor) -> Tensor:
        """Features (batch, 384, rows, columns) as a sequence (batch, rows * columns, width)."""
        _, _, rows, columns = features.shape
        sequence = features.flatten(2).transpose(1, 2)
        return self.memory_map(self.before(sequence)) + _place_codes(rows, columns, features.device)

    def forward(self, features: Tensor, tokens: Tensor) -> Tensor:
        """Scores (batch, position, token) after each of ``tokens`` (batch, position)."""
        memory = self.memory(features)
        codes = _position_codes(tokens.shape[1], tokens.device)
        x = self.embedding(tokens) * math.sqrt(WIDTH) + codes
        for layer in self.layers:
            x = layer(x, memory)
        return self.head(self.after(x))


class DecoderLayer(nn.Module):
    """Attention to the tokens so far, attention to the line, a hidden layer."""

    def __init__(self) -> None:
        super().__init__()
        self.norm_self, self.norm_line, self.norm_hidden = (nn.LayerNorm(WIDTH) for _ in range(3))
        self.self_in = nn.Linear(WIDTH, 3 * WIDTH)
        self.self_out = nn.Linear(WIDTH, WIDTH)
        self.line_query = nn.Linear(WIDTH, WIDTH)
        self.line_in = nn.Linear(WIDTH, 2 * WIDTH)
        self.line_out = nn.Linear(WIDTH, WIDTH)
        self.hidden_in = nn.Linear(WIDTH, HIDDEN)
        self.hidden_out = nn.Linear(HIDDEN, WIDTH)

    def forward(self, x: Tensor, memory: Tensor) -> Tensor:
        query, key, value = self.self_in(self.norm_self(x)).chunk(3, -1)
        mixed = F.scaled_dot_product_attention(
            in_heads(query), in_heads(key), in_heads(value), is_causal=True
        )
        x = x + self.self_out(joined(mixed))
        key, value = self.line_in(memory).chunk(2, -1)
        query = self.line_query(self.norm_line(x))
        mixed = F.scaled_dot_product_attention(in_heads(query), in_heads(key), in_heads(value))
        x = x + self.line_out(joined(mixed))
        return x + self.hidden_out(F.gelu(self.hidden_in(self.norm_hidden(x))))


def in_heads(x: Tensor) -> Tensor:
    """(batch, position, width) to (batch, head, position, width / heads)."""
    return x.unflatten(-1, (HEADS, -1)).transpose(1, 2)


def joined(x: Tensor) -> Tensor:
    """(batch, head, position, width / heads) to (batch, position, width)."""
    return x.transpose(1, 2).flatten(2)


@cache
def _place_codes(rows: int, columns: int, device: torch.device) -> Tensor:
    return torch.from_numpy(place_codes(rows, columns)).to(device)


@cache
def _position_codes(count: int, device: torch.device) -> Tensor:
    return torch.from_numpy(sine_codes(np.arange(count), WIDTH)).to(device)


def decoder_loss(scores: Tensor, tokens: Tensor, smoothing: float = 0.02) -> Tensor:
    """Cross-entropy per token. ``tokens`` (batch, position) begin with START, end with END, PAD."""
    return F.cross_entropy(
        scores[:, :-1].flatten(0, 1).float(),
        tokens[:, 1:].flatten(),
        ignore_index=PAD,
        label_smoothing=smoothing,
    )


def framed(ids: list[int]) -> list[int]:
    """Token ids between START and END."""
    return [START, *ids, END]
