import { describeEstuary } from './estuary.js'

describeEstuary('one station of a slough', 'estuary-elkhorn', ['elksmwq'])
