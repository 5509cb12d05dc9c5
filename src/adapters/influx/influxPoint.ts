import { FieldType, type IPoint, type ISchemaOptions } from 'influx'
import { SERIES, SERIES_TAGS, type SeriesPoint } from '../../core/series.js'

const TYPES = { float: FieldType.FLOAT, integer: FieldType.INTEGER, text: FieldType.STRING } as const

/**
 * Fields with their types. Without it the client writes 1 for the float 1.0, and the first value of a field fixes its
 * type in the database.
 */
export const INFLUX_SCHEMA: readonly ISchemaOptions[] = Object.entries(SERIES).map(([measurement, fields]) => ({
  measurement,
  tags: [...SERIES_TAGS],
  fields: Object.fromEntries(Object.entries(fields).map(([name, type]) => [name, TYPES[type]])),
}))

/** A point as the client takes it, its time in milliseconds. */
export function influxPoint({ measurement, tags, fields, atMs }: SeriesPoint): IPoint {
  const safe = Object.entries(tags).map(([name, value]) => [name, tagValue(value)] as const)
  return {
    measurement,
    tags: Object.fromEntries(safe.filter(([, value]) => value !== '')),
    fields: { ...fields },
    timestamp: atMs,
  }
}

/**
 * The line protocol has no way to write a line break in a tag, or a backslash at its end, which would hide the comma
 * or space that follows; an area of the register may hold either.
 */
function tagValue(text: string): string {
  return text.replace(/[\u0000-\u001f\u007f]+/g, ' ').replace(/[\\\s]+$/, '')
}
