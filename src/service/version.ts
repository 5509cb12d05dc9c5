/** Stands in every event as the envelope's `softwareversion`; the same as in package.json. */
export const SOFTWARE_VERSION = '0.1.0'
/** Stands before every event type unless a deployment chooses another. */
export const EVENT_TYPE_PREFIX = 'turbidrift'
