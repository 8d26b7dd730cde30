from collections.abc import AsyncIterator

import pytest_asyncio

from .house import House


@pytest_asyncio.fixture
async def house() -> AsyncIterator[House]:
    house = House()
    yield house
    await house.end()
