"""The network: a line image in, the tokens of its notation out.

A small convolutional net turns the image into a grid of 1/16 height by 1/8
width; a transformer encoder relates the cells; a transformer decoder writes the
tokens one by one, looking at the whole two-dimensional grid, so that it can read
a numerator before its denominator.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from scanner.reader.notation import TOKENS

ROW_STRIDE, COLUMN_STRIDE = 16, 8
MAX_TOKENS = 160
MAX_ROWS, MAX_COLUMNS = 8, 208
_MASKED = -1e4  # added to the attention score of padding; finite, so that half precision holds it


@dataclass(frozen=True)
class Size:
    """Widths and depths of the network."""

    channels: tuple[int, int, int] = (32, 64, 128)
    blocks: tuple[int, int, int] = (3, 4, 2)
    width: int = 256
    heads: int = 4
    encoder_layers: int = 3
    encoder_hidden: int = 768
    decoder_layers: int = 4
    decoder_hidden: int = 768
    dropout: float = 0.1


SIZES = {
    "full": Size(),
    "small": Size((16, 32, 96), (1, 2, 1), 192, 4, 1, 384, 2, 384, 0.05),
    "miniature": Size((8, 8, 16), (1, 1, 1), 32, 2, 1, 32, 2, 32, 0.0),
}


class LineModel(nn.Module):
    """The whole network; ``forward`` is the training pass with the true tokens fed in."""

    def __init__(self, size: Size | None = None):
        super().__init__()
        self.size = size = size or Size()
        self.grid = Grid(size)
        self.encoder = nn.ModuleList(
            EncoderLayer(size.width, size.heads, size.encoder_hidden, size.dropout)
            for _ in range(size.encoder_layers)
        )
        self.encoder_norm = nn.LayerNorm(size.width)
        self.decoder = nn.ModuleList(
            DecoderLayer(size.width, size.heads, size.decoder_hidden, size.dropout)
            for _ in range(size.decoder_layers)
        )
        self.decoder_norm = nn.LayerNorm(size.width)
        self.embedding = nn.Embedding(len(TOKENS), size.width)
        self.token_bias = nn.Parameter(torch.zeros(len(TOKENS)))
        self.column_symbols = nn.Linear(size.width, len(TOKENS))
        nn.init.normal_(self.embedding.weight, std=size.width**-0.5)
        for name, table in (
            ("token_places", sinusoids(MAX_TOKENS, size.width)),
            ("row_places", sinusoids(MAX_ROWS, size.width // 2, 64.0)),
            ("column_places", sinusoids(MAX_COLUMNS, size.width // 2, 1000.0)),
        ):
            self.register_buffer(name, table, persistent=False)

    def encode(self, images: Tensor, widths: Tensor) -> tuple[Tensor, Tensor]:
        """Grid cells of a batch.

        Args:
            images: (batch, height, width), uint8 or float grey levels 0 ... 255.
            widths: (batch,), columns of each image that are not padding.

        Returns:
            cells (batch, cell, model width) and the additive attention mask
            (batch, 1, 1, cell).
        """
        grid = self.grid(standardised(images, widths))
        _, _, rows, columns = grid.shape
        cells = grid.permute(0, 2, 3, 1)
        half = self.size.width // 2
        row_places = self.row_places[:rows, None].expand(rows, columns, half)
        column_places = self.column_places[None, :columns].expand(rows, columns, half)
        cells = (cells + torch.cat((row_places, column_places), -1)).flatten(1, 2)
        padding = torch.arange(columns, device=widths.device) * COLUMN_STRIDE >= widths[:, None]
        mask = padding.to(cells.dtype)[:, None, :].expand(-1, rows, -1).flatten(1) * _MASKED
        mask = mask[:, None, None, :]
        for layer in self.encoder:
            cells = layer(cells, mask)
        return self.encoder_norm(cells), mask

    def forward(self, images: Tensor, widths: Tensor, tokens: Tensor) -> tuple[Tensor, Tensor]:
        """Scores of what follows each of ``tokens`` (batch, token), and of what stands where.

        Returns (batch, token, symbol) and (batch, column, symbol). The second is for training
        only: it teaches the encoder letters long before the decoder has learnt where to look.
        """
        cells, mask = self.encode(images, widths)
        x = self.embed(tokens) + self.token_places[: tokens.shape[1]]
        for layer in self.decoder:
            x = layer(x, cells, mask)
        columns = images.shape[2] // COLUMN_STRIDE
        by_column = cells.unflatten(1, (-1, columns)).mean(1)
        return self.symbol_scores(x), self.column_symbols(by_column)

    def embed(self, tokens: Tensor) -> Tensor:
        return self.embedding(tokens) * math.sqrt(self.size.width)

    def symbol_scores(self, x: Tensor) -> Tensor:
        return F.linear(self.decoder_norm(x), self.embedding.weight, self.token_bias)


class Grid(nn.Module):
    """The convolutional net."""

    def __init__(self, size: Size):
        super().__init__()
        first, second, third = size.channels
        self.stem = ConvNorm(1, first, 3, 2)
        self.down_1 = ConvNorm(first, second, 3, 2)
        self.blocks_1 = nn.Sequential(*(Block(second, 5, 2) for _ in range(size.blocks[0])))
        self.down_2 = ConvNorm(second, third, 3, 2)
        self.blocks_2 = nn.Sequential(*(Block(third, 5, 3) for _ in range(size.blocks[1])))
        self.down_3 = ConvNorm(third, size.width, (2, 1), (2, 1), 0)
        self.blocks_3 = nn.Sequential(*(Block(size.width, 5, 2) for _ in range(size.blocks[2])))

    def forward(self, x: Tensor) -> Tensor:
        x = self.down_1(F.relu(self.stem(x)))
        x = self.down_2(F.relu(self.blocks_1(x)))
        x = self.down_3(F.relu(self.blocks_2(x)))
        return self.blocks_3(x)


class ConvNorm(nn.Module):
    """A convolution and its batch normalisation (the runtime folds the two into one)."""

    def __init__(self, inputs, outputs, kernel, stride=1, padding=None, groups=1):
        super().__init__()
        if padding is None:
            padding = kernel // 2
        self.conv = nn.Conv2d(inputs, outputs, kernel, stride, padding, groups=groups, bias=False)
        self.norm = nn.BatchNorm2d(outputs, momentum=0.02)

    def forward(self, x: Tensor) -> Tensor:
        return self.norm(self.conv(x))


class Block(nn.Module):
    """Depth-wise then point-wise convolutions round a short cut."""

    def __init__(self, channels: int, kernel: int, expansion: int):
        super().__init__()
        hidden = channels * expansion
        self.depth_wise = ConvNorm(channels, channels, kernel, groups=channels)
        self.widen = ConvNorm(channels, hidden, 1)
        self.narrow = ConvNorm(hidden, channels, 1)
        nn.init.constant_(self.narrow.norm.weight, 0.2)

    def forward(self, x: Tensor) -> Tensor:
        return x + self.narrow(F.relu(self.widen(self.depth_wise(x))))


class Attention(nn.Module):
    """Multi-head attention; ``keys`` and ``values`` are split off so that they can be kept."""

    def __init__(self, width: int, heads: int):
        super().__init__()
        self.heads = heads
        self.query = nn.Linear(width, width)
        self.key = nn.Linear(width, width, bias=False)
        self.value = nn.Linear(width, width)
        self.out = nn.Linear(width, width)

    def split(self, x: Tensor) -> Tensor:
        """(batch, place, width) to (batch, head, place, width of a head)."""
        batch, places, width = x.shape
        return x.view(batch, places, self.heads, width // self.heads).transpose(1, 2)

    def forward(self, x: Tensor, source: Tensor, mask: Tensor | None, causal: bool = False):
        attended = F.scaled_dot_product_attention(
            self.split(self.query(x)),
            self.split(self.key(source)),
            self.split(self.value(source)),
            attn_mask=None if mask is None else mask.to(x.dtype),
            is_causal=causal,
        )
        return self.out(attended.transpose(1, 2).flatten(2))


class FeedForward(nn.Module):
    def __init__(self, width: int, hidden: int):
        super().__init__()
        self.widen = nn.Linear(width, hidden)
        self.narrow = nn.Linear(hidden, width)

    def forward(self, x: Tensor) -> Tensor:
        return self.narrow(F.gelu(self.widen(x)))


class EncoderLayer(nn.Module):
    def __init__(self, width: int, heads: int, hidden: int, dropout: float):
        super().__init__()
        self.attention_norm = nn.LayerNorm(width)
        self.attention = Attention(width, heads)
        self.feed_norm = nn.LayerNorm(width)
        self.feed = FeedForward(width, hidden)
        self.dropout = dropout

    def forward(self, x: Tensor, mask: Tensor) -> Tensor:
        normed = self.attention_norm(x)
        x = x + self.drop(self.attention(normed, normed, mask))
        return x + self.drop(self.feed(self.feed_norm(x)))

    def drop(self, x: Tensor) -> Tensor:
        return F.dropout(x, self.dropout, self.training)


class DecoderLayer(nn.Module):
    def __init__(self, width: int, heads: int, hidden: int, dropout: float):
        super().__init__()
        self.attention_norm = nn.LayerNorm(width)
        self.attention = Attention(width, heads)
        self.look_norm = nn.LayerNorm(width)
        self.look = Attention(width, heads)
        self.feed_norm = nn.LayerNorm(width)
        self.feed = FeedForward(width, hidden)
        self.dropout = dropout

    def forward(self, x: Tensor, cells: Tensor, mask: Tensor) -> Tensor:
        normed = self.attention_norm(x)
        x = x + self.drop(self.attention(normed, normed, None, causal=True))
        x = x + self.drop(self.look(self.look_norm(x), cells, mask))
        return x + self.drop(self.feed(self.feed_norm(x)))

    def drop(self, x: Tensor) -> Tensor:
        return F.dropout(x, self.dropout, self.training)


def standardised(images: Tensor, widths: Tensor) -> Tensor:
    """Grey levels as darkness with mean 0 and spread 1 over the unpadded part; padding is 0.

    Returns shape (batch, 1, height, width).
    """
    darkness = 1.0 - images.float() / 255.0
    columns = torch.arange(images.shape[2], device=images.device)
    inside = (columns < widths[:, None]).float()[:, None, :]
    count = (widths.float() * images.shape[1])[:, None, None]
    mean = (darkness * inside).sum((1, 2), keepdim=True) / count
    centred = (darkness - mean) * inside
    spread = ((centred * centred).sum((1, 2), keepdim=True) / count).sqrt()
    return (centred / (spread + 0.02))[:, None]


def sinusoids(places: int, width: int, longest: float = 10000.0) -> Tensor:
    """Sine and cosine codes of places 0 ... ``places`` - 1, shape (places, width)."""
    steps = torch.arange(places, dtype=torch.float32)[:, None]
    rates = torch.exp(-math.log(longest) * torch.arange(0, width, 2) / width)
    return torch.stack((torch.sin(steps * rates), torch.cos(steps * rates)), -1).flatten(1)
