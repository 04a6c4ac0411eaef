//! The catalogue of cyclic redundancy checks, by the names under which it was published.
//!
//! Names, parameters and check values are those of the `crc` crate; nothing here is written anew. Promises: a checksum is
//! looked up, or it is none. Must not be here: sums that are no CRC.

use crc::{Crc, NoTable};

/// One check of the catalogue.
pub(super) struct Published {
    /// As it was published, such as `CRC-16/KERMIT`.
    pub(super) name: &'static str,
    /// Bits.
    pub(super) width: u8,
    pub(super) of: fn(&[u8]) -> u128,
    /// Of the nine bytes `123456789`, as published.
    #[cfg(test)]
    pub(super) check: u128,
}

macro_rules! catalogue {
    ($($name:literal $algorithm:ident $word:ty;)*) => {
        /// All of them, in the order of the catalogue.
        pub(super) const PUBLISHED: &[Published] = &[$(Published {
            name: $name,
            width: crc::$algorithm.width,
            of: |bytes| u128::from(Crc::<$word, NoTable>::new(&crc::$algorithm).checksum(bytes)),
            #[cfg(test)]
            check: crc::$algorithm.check as u128,
        },)*];
    };
}

catalogue! {
    "CRC-3/GSM" CRC_3_GSM u8;
    "CRC-3/ROHC" CRC_3_ROHC u8;
    "CRC-4/G-704" CRC_4_G_704 u8;
    "CRC-4/INTERLAKEN" CRC_4_INTERLAKEN u8;
    "CRC-5/EPC-C1G2" CRC_5_EPC_C1G2 u8;
    "CRC-5/G-704" CRC_5_G_704 u8;
    "CRC-5/USB" CRC_5_USB u8;
    "CRC-6/CDMA2000-A" CRC_6_CDMA2000_A u8;
    "CRC-6/CDMA2000-B" CRC_6_CDMA2000_B u8;
    "CRC-6/DARC" CRC_6_DARC u8;
    "CRC-6/G-704" CRC_6_G_704 u8;
    "CRC-6/GSM" CRC_6_GSM u8;
    "CRC-7/MMC" CRC_7_MMC u8;
    "CRC-7/ROHC" CRC_7_ROHC u8;
    "CRC-7/UMTS" CRC_7_UMTS u8;
    "CRC-8/AUTOSAR" CRC_8_AUTOSAR u8;
    "CRC-8/BLUETOOTH" CRC_8_BLUETOOTH u8;
    "CRC-8/CDMA2000" CRC_8_CDMA2000 u8;
    "CRC-8/DARC" CRC_8_DARC u8;
    "CRC-8/DVB-S2" CRC_8_DVB_S2 u8;
    "CRC-8/GSM-A" CRC_8_GSM_A u8;
    "CRC-8/GSM-B" CRC_8_GSM_B u8;
    "CRC-8/HITAG" CRC_8_HITAG u8;
    "CRC-8/I-432-1" CRC_8_I_432_1 u8;
    "CRC-8/I-CODE" CRC_8_I_CODE u8;
    "CRC-8/LTE" CRC_8_LTE u8;
    "CRC-8/MAXIM-DOW" CRC_8_MAXIM_DOW u8;
    "CRC-8/MIFARE-MAD" CRC_8_MIFARE_MAD u8;
    "CRC-8/NRSC-5" CRC_8_NRSC_5 u8;
    "CRC-8/OPENSAFETY" CRC_8_OPENSAFETY u8;
    "CRC-8/ROHC" CRC_8_ROHC u8;
    "CRC-8/SAE-J1850" CRC_8_SAE_J1850 u8;
    "CRC-8/SMBUS" CRC_8_SMBUS u8;
    "CRC-8/TECH-3250" CRC_8_TECH_3250 u8;
    "CRC-8/WCDMA" CRC_8_WCDMA u8;
    "CRC-10/ATM" CRC_10_ATM u16;
    "CRC-10/CDMA2000" CRC_10_CDMA2000 u16;
    "CRC-10/GSM" CRC_10_GSM u16;
    "CRC-11/FLEXRAY" CRC_11_FLEXRAY u16;
    "CRC-11/UMTS" CRC_11_UMTS u16;
    "CRC-12/CDMA2000" CRC_12_CDMA2000 u16;
    "CRC-12/DECT" CRC_12_DECT u16;
    "CRC-12/GSM" CRC_12_GSM u16;
    "CRC-12/UMTS" CRC_12_UMTS u16;
    "CRC-13/BBC" CRC_13_BBC u16;
    "CRC-14/DARC" CRC_14_DARC u16;
    "CRC-14/GSM" CRC_14_GSM u16;
    "CRC-15/CAN" CRC_15_CAN u16;
    "CRC-15/MPT1327" CRC_15_MPT1327 u16;
    "CRC-16/ARC" CRC_16_ARC u16;
    "CRC-16/CDMA2000" CRC_16_CDMA2000 u16;
    "CRC-16/CMS" CRC_16_CMS u16;
    "CRC-16/DDS-110" CRC_16_DDS_110 u16;
    "CRC-16/DECT-R" CRC_16_DECT_R u16;
    "CRC-16/DECT-X" CRC_16_DECT_X u16;
    "CRC-16/DNP" CRC_16_DNP u16;
    "CRC-16/EN-13757" CRC_16_EN_13757 u16;
    "CRC-16/GENIBUS" CRC_16_GENIBUS u16;
    "CRC-16/GSM" CRC_16_GSM u16;
    "CRC-16/IBM-3740" CRC_16_IBM_3740 u16;
    "CRC-16/IBM-SDLC" CRC_16_IBM_SDLC u16;
    "CRC-16/ISO-IEC-14443-3-A" CRC_16_ISO_IEC_14443_3_A u16;
    "CRC-16/KERMIT" CRC_16_KERMIT u16;
    "CRC-16/LJ1200" CRC_16_LJ1200 u16;
    "CRC-16/M17" CRC_16_M17 u16;
    "CRC-16/MAXIM-DOW" CRC_16_MAXIM_DOW u16;
    "CRC-16/MCRF4XX" CRC_16_MCRF4XX u16;
    "CRC-16/MODBUS" CRC_16_MODBUS u16;
    "CRC-16/NRSC-5" CRC_16_NRSC_5 u16;
    "CRC-16/OPENSAFETY-A" CRC_16_OPENSAFETY_A u16;
    "CRC-16/OPENSAFETY-B" CRC_16_OPENSAFETY_B u16;
    "CRC-16/PROFIBUS" CRC_16_PROFIBUS u16;
    "CRC-16/RIELLO" CRC_16_RIELLO u16;
    "CRC-16/SPI-FUJITSU" CRC_16_SPI_FUJITSU u16;
    "CRC-16/T10-DIF" CRC_16_T10_DIF u16;
    "CRC-16/TELEDISK" CRC_16_TELEDISK u16;
    "CRC-16/TMS37157" CRC_16_TMS37157 u16;
    "CRC-16/UMTS" CRC_16_UMTS u16;
    "CRC-16/USB" CRC_16_USB u16;
    "CRC-16/XMODEM" CRC_16_XMODEM u16;
    "CRC-17/CAN-FD" CRC_17_CAN_FD u32;
    "CRC-21/CAN-FD" CRC_21_CAN_FD u32;
    "CRC-24/BLE" CRC_24_BLE u32;
    "CRC-24/FLEXRAY-A" CRC_24_FLEXRAY_A u32;
    "CRC-24/FLEXRAY-B" CRC_24_FLEXRAY_B u32;
    "CRC-24/INTERLAKEN" CRC_24_INTERLAKEN u32;
    "CRC-24/LTE-A" CRC_24_LTE_A u32;
    "CRC-24/LTE-B" CRC_24_LTE_B u32;
    "CRC-24/OPENPGP" CRC_24_OPENPGP u32;
    "CRC-24/OS-9" CRC_24_OS_9 u32;
    "CRC-30/CDMA" CRC_30_CDMA u32;
    "CRC-31/PHILIPS" CRC_31_PHILIPS u32;
    "CRC-32/AIXM" CRC_32_AIXM u32;
    "CRC-32/AUTOSAR" CRC_32_AUTOSAR u32;
    "CRC-32/BASE91-D" CRC_32_BASE91_D u32;
    "CRC-32/BZIP2" CRC_32_BZIP2 u32;
    "CRC-32/CD-ROM-EDC" CRC_32_CD_ROM_EDC u32;
    "CRC-32/CKSUM" CRC_32_CKSUM u32;
    "CRC-32/ISCSI" CRC_32_ISCSI u32;
    "CRC-32/ISO-HDLC" CRC_32_ISO_HDLC u32;
    "CRC-32/JAMCRC" CRC_32_JAMCRC u32;
    "CRC-32/MEF" CRC_32_MEF u32;
    "CRC-32/MPEG-2" CRC_32_MPEG_2 u32;
    "CRC-32/XFER" CRC_32_XFER u32;
    "CRC-40/GSM" CRC_40_GSM u64;
    "CRC-64/ECMA-182" CRC_64_ECMA_182 u64;
    "CRC-64/GO-ISO" CRC_64_GO_ISO u64;
    "CRC-64/MS" CRC_64_MS u64;
    "CRC-64/NVME" CRC_64_NVME u64;
    "CRC-64/REDIS" CRC_64_REDIS u64;
    "CRC-64/WE" CRC_64_WE u64;
    "CRC-64/XZ" CRC_64_XZ u64;
    "CRC-82/DARC" CRC_82_DARC u128;
}
