#include "sequence/internal.h"

#include "base/base.h"

#include <stdlib.h>

static uint64_t scatter(uint64_t key)
{
	key *= UINT64_C(0x9e3779b97f4a7c15);
	return key ^ key >> 32;
}

static int *find_entry(const struct layer *layer, uint64_t key)
{
	int mask = layer->table_size - 1;
	int at = (int)(scatter(key) & (uint64_t)mask);

	while (layer->table[at] >= 0 && layer->keys[layer->table[at]] != key)
		at = (at + 1) & mask;
	return &layer->table[at];
}

/* At most half full, so that a free entry is always near. */
static void grow(struct layer *layer)
{
	layer->table_size = layer->table_size ? 2 * layer->table_size : 64;
	layer->keys = memory_resize(layer->keys, (size_t)layer->table_size / 2, sizeof(uint64_t));
	layer->breaks = memory_resize(layer->breaks, (size_t)layer->table_size / 2, sizeof(int));
	layer->table = memory_resize(layer->table, (size_t)layer->table_size, sizeof(int));
	for (int i = 0; i < layer->table_size; i++)
		layer->table[i] = -1;
	for (int i = 0; i < layer->count; i++)
		*find_entry(layer, layer->keys[i]) = i;
}

void layer_add(struct layer *layer, uint64_t key, int breaks)
{
	if (layer->count == layer->table_size / 2)
		grow(layer);
	int *entry = find_entry(layer, key);
	if (*entry < 0) {
		layer->keys[layer->count] = key;
		layer->breaks[layer->count] = breaks;
		*entry = layer->count++;
	} else if (breaks < layer->breaks[*entry]) {
		layer->breaks[*entry] = breaks;
	}
}

int layer_find(const struct layer *layer, uint64_t key)
{
	return layer->count ? *find_entry(layer, key) : -1;
}

void layer_free(struct layer *layer)
{
	free(layer->keys);
	free(layer->breaks);
	free(layer->rest);
	free(layer->table);
}
