/** Where messages are taken from on the embedded broker when the register declares no feed for it. */
export const TOPIC_IN = 'turbidrift/in/#'

/** Topics the service publishes under; nobody else may on the embedded broker. */
export function topicsOut(plant: string): string {
  return `turbidrift/${plant}/`
}

/**
 * Topic of an event: `turbidrift/<plant>/event/<type>`; the status of an analyzer is retained under
 * `turbidrift/<plant>/status/<analyzer>` instead, so that whoever subscribes sees at once how things stand.
 * @param type without prefix  @param subject `point/analyzer`
 */
export function topicOf(plant: string, type: string, subject: string): { topic: string; retain: boolean } {
  if (type !== 'analyzer.status') return { topic: `${topicsOut(plant)}event/${type}`, retain: false }
  return { topic: `${topicsOut(plant)}status/${subject.slice(subject.lastIndexOf('/') + 1)}`, retain: true }
}
