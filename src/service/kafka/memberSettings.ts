import type { KafkaConnection } from '../../adapters/connectionsFile.js'

/** What a member has to know of its connection and its command line. */
export interface MemberSettings extends Pick<KafkaConnection, 'group' | 'topics' | 'kinds' | 'keys'> {
  /** Of the input topic. */
  readonly partitions: number
  /** `clock`: plant time is the machine's; `event`: it follows the times in the messages. */
  readonly ticks: 'clock' | 'event'
  /** Types of events begin with it. */
  readonly prefix: string
  readonly softwareVersion: string
}
